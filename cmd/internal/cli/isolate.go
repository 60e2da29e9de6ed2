package cli

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"steadyrail/configs"
	"steadyrail/rules/diagnose"
)

// mostLog is the longest file of entries that is read, in bytes.
const mostLog = 1 << 20

// toldAtLeast is the probability below which an explanation is not listed.
const toldAtLeast = 0.005

// toldAtMost is how many explanations are listed for people.
const toldAtMost = 8

func isolateCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "isolate BOARD.yaml [--entries FILE]",
		Short: "Rank what may be wrong with a board, and say what to measure next",
		Long: `Rank what may be wrong with a board, and say what to measure next. BOARD.yaml is
its sheet: configs/board.yaml is a complete one to copy. FILE holds what was
done and read, an entry a line, - for standard input:

    set says +12 V audio
    +5 V logic 0.84 ohm
    unplug CN3
    +5 V logic 0.84 ohm
    source +5 V logic not ok
    load logic board ok

At most two faults at once are weighed, something that is not on the sheet
always keeps 5 %, and nothing is ever above 99 %. An indication of the set counts
for nothing once the rail it blames was measured. Power is asked for only when
every rail was read to its return and none was short. It ends with 1 when
entries contradict each other.`,
		Args: cobra.ExactArgs(1),
	}
	entries := c.Flags().String("entries", "", "file of what was done and read; - for standard input")
	asJSON := jsonFlag(c)
	c.RunE = func(_ *cobra.Command, args []string) error {
		r, err := isolateBoard(s, args[0], *entries)
		if err != nil {
			return err
		}
		if *asJSON {
			err = writeJSON(s.out, r)
		} else {
			showIsolation(s, r)
		}
		if err == nil && len(r.Contradictions) > 0 {
			return &exitError{code: exitJudgedBad}
		}
		return err
	}
	return c
}

func isolateBoard(s streams, path, entries string) (diagnose.Result, error) {
	b, problems := configs.LoadBoard(path)
	if len(problems) > 0 {
		configs.Explain(s.err, problems)
		return diagnose.Result{}, &exitError{code: exitUse}
	}
	text, err := readEntries(s, entries)
	if err != nil {
		return diagnose.Result{}, err
	}
	log, bad := diagnose.ParseLog(*b, text)
	for _, e := range bad {
		s.say("%s:%d: %s", entries, e.Line, e.Why)
	}
	if len(bad) > 0 {
		return diagnose.Result{}, &exitError{code: exitUse}
	}
	r, err := diagnose.New(*b).Weigh(log)
	if err != nil {
		return r, use(fmt.Errorf("isolate: %w", err))
	}
	return worthTelling(r), nil
}

// worthTelling leaves out the thousands of explanations that are as good as excluded.
func worthTelling(r diagnose.Result) diagnose.Result {
	n := 0
	for n < len(r.Ranked) && r.Ranked[n].P >= toldAtLeast {
		n++
	}
	r.Ranked = r.Ranked[:max(n, 1)]
	return r
}

func readEntries(s streams, path string) (string, error) {
	from := s.in
	switch path {
	case "":
		return "", nil
	case "-":
	default:
		f, err := os.Open(path)
		if err != nil {
			return "", usef("isolate: %w", err)
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, mostLog+1))
	if err == nil && len(data) > mostLog {
		return "", usef("isolate: %s is longer than a log of entries can be (%d bytes)", path, mostLog)
	}
	return string(data), err
}

func showIsolation(s streams, r diagnose.Result) {
	for _, c := range r.Contradictions {
		fmt.Fprintln(s.out, fitted(s.out, "Contradiction: "+c.Say))
	}
	for _, t := range r.TwoByTwo {
		fmt.Fprintln(s.out, fitted(s.out, "Two by two: "+t.Say))
	}
	for i, x := range r.Ranked {
		if i == toldAtMost {
			fmt.Fprintf(s.out, "  and %d more below %.1f %%\n", len(r.Ranked)-i, 100*r.Ranked[i-1].P)
			break
		}
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %4.1f %%  %s", 100*x.P, x.Say)))
	}
	fmt.Fprintln(s.out, fitted(s.out, r.Sensitivity))
	if r.Next == nil {
		fmt.Fprintln(s.out, "Next: nothing on the sheet that is safe would tell more.")
	} else {
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("Next: %s (about %.1f min)", r.Next.Say, r.Next.Minutes)))
	}
	s.say("Mains and charged capacitors can kill: local codes and licensed practice govern work on them.\nProbabilities rest on the sheet and on priors that are stated, not measured: a part is convicted by its own reading.")
}
