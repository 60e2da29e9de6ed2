package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/standin"
)

// standInAsk is one use of `standin`.
type standInAsk struct {
	dir, job, column string
	separator        string
	waves            []string
	keep             bool
}

func standinCommand(s streams) *cobra.Command {
	var ask standInAsk
	c := &cobra.Command{
		Use:   "standin [FILE [CANDIDATE]...]",
		Short: "Judge whether a converter may stand in for a dead one",
		Long: `Judge whether a converter may stand in for a dead one. FILE holds what the rail
asks for, as its sheet says and as was measured, and what is stated of each
candidate; configs/standin.yaml is a complete one to copy. Each question is
answered with its number and its limit; --json also tells the formula and where
each figure is from. What nobody stated is not judged, and what no meter can see is listed as not checked.

With --job what was measured in that job takes the place of what FILE states.
A capture of an oscilloscope turns "not checked" into a figure:
  steadyrail standin n.yaml "step-down board" --wave start=a.csv --wave step=b
It may show a start, a load step (step), ripple, or what feeds the converter (input);
one without a word in front is taken when its data can only be a start. A capture
shows one converter: name the CANDIDATE that it was taken of.
With --keep the judgement goes into the job's record: the report shows it, and a
soak is held against its estimate of heat; without FILE, what a job keeps is told,
with what its soak made of it:
  steadyrail standin --job AB-0147

Without names every candidate of the file is judged. It ends with 1 when none
of them may stand in.`,
	}
	dir := workspaceFlag(c)
	f := c.Flags()
	f.StringVar(&ask.job, "job", "", "job whose measured figures are taken")
	f.StringArrayVar(&ask.waves, "wave", nil, "capture as CSV: start=FILE, step=FILE, ripple=FILE, input=FILE, or FILE")
	f.StringVar(&ask.column, "column", "", "channel of the captures, by name or number, when a file has several")
	f.StringVar(&ask.separator, "separator", "", "what parts the cells of the captures: comma, semicolon or tab; found by their data")
	f.BoolVar(&ask.keep, "keep", false, "with --job: keep the judgement in the job's record")
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		ask.dir = *dir
		if ask.keep && (ask.job == "" || isFile(ask.job)) {
			return usef("standin: --keep goes with --job, an open job of the workspace")
		}
		if len(args) == 0 {
			if ask.job == "" {
				return usef("standin: name a file of needs, or a job with --job; see: steadyrail standin --help")
			}
			return ask.kept(cmd.Context(), s, *asJSON)
		}
		out, err := ask.judge(cmd.Context(), s, args[0], args[1:])
		if err != nil {
			return err
		}
		if ask.keep {
			if err := ask.record(cmd.Context(), s, out.Judgements); err != nil {
				return err
			}
		}
		return showStandIns(s, out, *asJSON)
	}
	return c
}

// showStandIns prints all judgements, and ends with 1 when no candidate may.
func showStandIns(s streams, out app.StandIns, asJSON bool) error {
	if asJSON {
		if err := writeJSON(s.out, out.Judgements); err != nil {
			return err
		}
	} else {
		showTaken(s, out)
		for i, j := range out.Judgements {
			if i > 0 {
				fmt.Fprintln(s.out)
			}
			showJudgement(s, j)
		}
		s.say("Mains and charged capacitors can kill: local codes and licensed practice govern work on them.\nA separation between mains and secondary is judged here by what is stated of it alone.")
	}
	if !slices.ContainsFunc(out.Judgements, func(j standin.Judgement) bool { return j.Word == standin.Fits }) {
		return &exitError{code: exitJudgedBad}
	}
	return nil
}

func (ask standInAsk) judge(ctx context.Context, s streams, path string, names []string) (out app.StandIns, err error) {
	file, list, err := chosenCandidates(s, path, names)
	if err != nil {
		return out, err
	}
	waves, err := ask.files()
	if err != nil {
		return out, err
	}
	if ask.job == "" {
		out, err = app.JudgeStandIns(ctx, file.Need, list, nil, waves, time.Local)
		return out, refusedStandIn(err)
	}
	err = readJob(ctx, s, ask.dir, ask.job, func(f *store.Job, _ *job.Book) error {
		out, err = app.JudgeStandIns(ctx, file.Need, list, f, waves, time.Local)
		return err
	})
	return out, refusedStandIn(err)
}

// refusedStandIn gives an error its exit code.
func refusedStandIn(err error) error {
	var e *dashboards.Error
	if errors.As(err, &e) && e.Kind == dashboards.Invalid {
		if e.Hint != "" {
			err = fmt.Errorf("standin: %w; %s", err, e.Hint)
		}
		return use(err)
	}
	return err
}

// files reads the captures.
func (ask standInAsk) files() (out []dashboards.WaveFile, err error) {
	for _, text := range ask.waves {
		w := dashboards.WaveFile{Column: ask.column, Parted: ask.separator}
		path := text
		for _, part := range dashboards.WaveParts {
			if rest, ok := strings.CutPrefix(text, part.Name+"="); ok {
				w.Shows, path = part.Shows, rest
			}
		}
		f, err := os.Open(path)
		if err != nil {
			return nil, usef("standin: %w", err)
		}
		w.Name = filepath.Base(path)
		w.Data, err = io.ReadAll(io.LimitReader(f, table.MaxWaveFile+1))
		_ = f.Close() // it was only read
		if err != nil {
			return nil, fmt.Errorf("standin: read %s: %w", path, err)
		}
		out = append(out, w)
	}
	return out, nil
}

// record has the daemon keep the judgements in the job.
func (ask standInAsk) record(ctx context.Context, s streams, list []standin.Judgement) error {
	d, err := daemon(ask.dir)
	if err != nil {
		return err
	}
	acts, err := app.StandInActs(list)
	if err != nil {
		return err
	}
	for _, act := range acts {
		res, err := d.act(ctx, ask.job, act)
		if err != nil {
			return err
		}
		s.say("kept: %s", res.Say)
	}
	return nil
}

// chosenCandidates are those that are named, all when none is.
func chosenCandidates(s streams, path string, names []string) (*configs.StandIn, []standin.Candidate, error) {
	file, problems := configs.LoadStandIn(path)
	if len(problems) > 0 {
		configs.Explain(s.err, problems)
		return nil, nil, &exitError{code: exitUse}
	}
	if len(names) == 0 {
		return file, file.Candidates, nil
	}
	var list []standin.Candidate
	for _, name := range names {
		c, known := file.Candidate(name)
		if !known {
			return nil, nil, usef("standin: there is no candidate %q in %s; it has %s", name, path, candidateNames(file))
		}
		list = append(list, c)
	}
	return file, list, nil
}

func candidateNames(f *configs.StandIn) string {
	var out []string
	for _, c := range f.Candidates {
		out = append(out, c.Name)
	}
	return strings.Join(out, ", ")
}

// showTaken says which figure came from which reading.
func showTaken(s streams, out app.StandIns) {
	for _, t := range out.Taken {
		say := t.Say
		if t.From.Stated() {
			say += " (" + t.From.Source + ")"
		}
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %-12s  %s", t.Key, say)))
	}
	if len(out.Taken) > 0 {
		fmt.Fprintln(s.out)
	}
}

// showJudgement prints what speaks against first, then what is open, then what
// is right: who reads on knows the worst already.
func showJudgement(s streams, j standin.Judgement) {
	fmt.Fprintln(s.out, fitted(s.out, j.Say))
	for _, word := range []standin.Word{standin.Unfit, standin.CannotTell, standin.NotStated, standin.Fits, standin.NotNeeded, standin.NotChecked} {
		for _, c := range j.Checks {
			if c.Word == word {
				fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %-12s  %-25s  %s", c.Word, c.Name, c.Say)))
			}
		}
	}
}
