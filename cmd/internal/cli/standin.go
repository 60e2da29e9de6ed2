package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/configs"
	"steadyrail/rules/standin"
)

func standinCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "standin FILE [CANDIDATE]...",
		Short: "Judge whether a converter may stand in for a dead one",
		Long: `Judge whether a converter may stand in for a dead one. FILE holds what the rail
asks for, as its sheet says and as was measured, and what is stated of each
candidate; configs/standin.yaml is a complete one to copy. Each question is
answered with its number and its limit; --json also tells the formula and where
each figure is from. What nobody stated is not judged, and what no meter can see is listed as not checked.

Without names every candidate of the file is judged. It ends with 1 when none
of them may stand in.`,
		Args: cobra.MinimumNArgs(1),
	}
	asJSON := jsonFlag(c)
	c.RunE = func(_ *cobra.Command, args []string) error {
		list, err := judgeCandidates(s, args[0], args[1:])
		if err != nil {
			return err
		}
		if *asJSON {
			if err := writeJSON(s.out, list); err != nil {
				return err
			}
		} else {
			for i, j := range list {
				if i > 0 {
					fmt.Fprintln(s.out)
				}
				showJudgement(s, j)
			}
			s.say("Mains and charged capacitors can kill: local codes and licensed practice govern work on them.\nA separation between mains and secondary is judged here by its stated volts alone.")
		}
		if !slices.ContainsFunc(list, func(j standin.Judgement) bool { return j.Word == standin.Fits }) {
			return &exitError{code: exitJudgedBad}
		}
		return nil
	}
	return c
}

func judgeCandidates(s streams, path string, names []string) ([]standin.Judgement, error) {
	file, problems := configs.LoadStandIn(path)
	if len(problems) > 0 {
		configs.Explain(s.err, problems)
		return nil, &exitError{code: exitUse}
	}
	list := file.Candidates
	if len(names) > 0 {
		list = nil
	}
	for _, name := range names {
		c, known := file.Candidate(name)
		if !known {
			return nil, usef("standin: there is no candidate %q in %s; it has %s", name, path, candidateNames(file))
		}
		list = append(list, c)
	}
	var out []standin.Judgement
	for _, c := range list {
		out = append(out, standin.Judge(file.Need, c, standin.Scope{}))
	}
	return out, nil
}

func candidateNames(f *configs.StandIn) string {
	var out []string
	for _, c := range f.Candidates {
		out = append(out, c.Name)
	}
	return strings.Join(out, ", ")
}

// showJudgement prints what speaks against first, then what is open, then what
// is right: who reads on knows the worst already.
func showJudgement(s streams, j standin.Judgement) {
	fmt.Fprintln(s.out, fitted(s.out, j.Say))
	for _, group := range [][]standin.Word{{standin.Unfit}, {standin.CannotTell}, {standin.NotStated}, {standin.Fits}, {standin.NotNeeded}, {standin.NotChecked}} {
		for _, c := range j.Checks {
			if !slices.Contains(group, c.Word) {
				continue
			}
			fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %-12s  %-25s  %s", c.Word, c.Name, c.Say)))
		}
	}
}
