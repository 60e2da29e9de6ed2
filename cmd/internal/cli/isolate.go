package cli

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/rules/diagnose"
)

// mostLog is the longest file of entries that is read, in bytes.
const mostLog = 1 << 20

// toldAtMost is how many explanations are listed for people.
const toldAtMost = 8

func isolateCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "isolate [BOARD.yaml] [--job JOB | --entries FILE]",
		Short: "Say where the fault is, and what to measure next",
		Long: `Say where the fault of a job is, as far as its record tells, and what to measure next:

    steadyrail isolate                            # the open job
    steadyrail isolate --job AB-0147              # that one, open or closed
    steadyrail isolate sheet supply.yaml        # gives the job its board sheet
    steadyrail isolate add lift C104
    steadyrail isolate add source +5 V logic not ok
    steadyrail isolate add walk +5 V logic TP5 3.21 mV
    steadyrail isolate finding C104               # files what the lift proved
    steadyrail isolate anew --why "PS2 replaced"

What probes read on the job's rails counts by itself. Before a part is lifted it says
what the lift could tell. Without a board sheet lifts are judged and nothing is ranked;
configs/board.yaml is a complete sheet to copy. With BOARD.yaml the job is held against
that sheet; with --entries no job is asked, and FILE (- for standard input) holds what was done and
read, an entry a line:

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
		Args: cobra.MaximumNArgs(1),
	}
	all := c.Flags().Bool("all", false, "tell each reading that does not count, not only how many and why")
	entries := c.Flags().String("entries", "", "file of what was done and read; - for standard input")
	asJSON := jsonFlag(c)
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		f, err := searched(cmd.Context(), s, *dir, *id, args, *entries)
		if err != nil {
			return err
		}
		if *asJSON {
			err = writeJSON(s.out, f)
		} else {
			showSearch(s, f, *all)
		}
		if err == nil && len(f.Contradictions) > 0 {
			return &exitError{code: exitJudgedBad}
		}
		return err
	}
	c.AddCommand(isolateAdd(s, dir, id), isolateFile(s, dir, id, "finding PART", "File what the lift of a part proved", func(ask *dashboards.IsolateAsk) *string { return &ask.Finding }),
		isolateSheet(s, dir, id), isolateAnew(s, dir, id))
	return c
}

func isolateBoard(s streams, path, entries string) (capture.FaultSearch, error) {
	b, err := boardFile(s, path)
	if err != nil {
		return capture.FaultSearch{}, err
	}
	text, err := readEntries(s, entries)
	if err != nil {
		return capture.FaultSearch{}, err
	}
	log, bad := diagnose.ParseLog(*b, text)
	for _, e := range bad {
		s.say("%s:%d: %s", entries, e.Line, e.Why)
	}
	if len(bad) > 0 {
		return capture.FaultSearch{}, &exitError{code: exitUse}
	}
	f, err := diagnose.Told(*b, log)
	if err != nil {
		return f, use(fmt.Errorf("isolate: %w", err))
	}
	return f, nil
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
