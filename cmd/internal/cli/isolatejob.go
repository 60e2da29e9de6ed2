package cli

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/diagnose"
)

// searched asks whoever knows: a file of entries against a sheet, a job's record
// against another sheet, the daemon, or the file of a job when none runs.
func searched(ctx context.Context, s streams, dir, id string, args []string, entries string) (f capture.FaultSearch, err error) {
	switch {
	case entries != "" && (len(args) == 0 || id != ""):
		return f, usef("isolate: --entries goes with BOARD.yaml and without --job")
	case len(args) == 1 && id == "":
		return isolateBoard(s, args[0], entries)
	}
	if len(args) == 1 {
		b, err := boardFile(s, args[0])
		if err != nil {
			return f, err
		}
		return f, readJob(ctx, s, dir, id, func(file *store.Job, _ *job.Book) (err error) {
			f, err = app.SearchFile(ctx, file, b)
			return err
		})
	}
	b, err := openBench(dir)
	if err != nil {
		return f, err
	}
	if b.daemon != nil && !isFile(id) {
		return f, b.daemon.get(ctx, "/api/v1/isolate?"+url.Values{"job": {id}}.Encode(), &f)
	}
	if id == "" {
		if id, err = newestOpen(ctx, s, dir, "isolate --job AB-0147"); err != nil {
			return f, err
		}
	}
	err = readJob(ctx, s, dir, id, func(file *store.Job, _ *job.Book) (err error) {
		f, err = app.SearchFile(ctx, file, nil)
		return err
	})
	return f, err
}

// boardFile reads a sheet and explains what is wrong with it.
func boardFile(s streams, path string) (*diagnose.Board, error) {
	b, problems := configs.LoadBoard(path)
	if len(problems) > 0 {
		configs.Explain(s.err, problems)
		return nil, &exitError{code: exitUse}
	}
	return b, nil
}

func isolateFile(s streams, dir, id *string, usage, short string, member func(*dashboards.IsolateAsk) *string) *cobra.Command {
	c := &cobra.Command{Use: usage, Short: short, Args: cobra.MinimumNArgs(1)}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		var ask dashboards.IsolateAsk
		*member(&ask) = strings.Join(args, " ")
		return fileIsolate(cmd.Context(), s, *dir, *id, ask)
	}
	c.Flags().SetInterspersed(false) // "-12 V audio 3 ohm" is no flag
	return c
}

func isolateAdd(s streams, dir, id *string) *cobra.Command {
	var sure bool
	c := isolateFile(s, dir, id, "add ENTRY...", "Add an entry: steadyrail isolate add lift C104", func(ask *dashboards.IsolateAsk) *string {
		ask.Sure = sure
		return &ask.Entry
	})
	c.Long = `Add an entry to the isolation of a job: what was taken off, put back, or read and not measured by a
channel of the bench. What probes read on the rails counts by itself.

    steadyrail isolate add unplug CN3
    steadyrail isolate add lift C104
    steadyrail isolate add put back C104
    steadyrail isolate add alone C104 0.3 ohm          # the part by itself
    steadyrail isolate add +5 V logic 0.84 ohm         # a rail, read by eye
    steadyrail isolate add +5 V logic 4.98 V hot       # after a warm-up
    steadyrail isolate add +5 V logic restarting
    steadyrail isolate add walk +5 V logic TP5 3.21 mV # with injected current
    steadyrail isolate add source +5 V logic not ok    # what feeds it, or: ok
    steadyrail isolate add load logic board not ok
    steadyrail isolate add enable PS2 missing
    steadyrail isolate add across PS2 open
    steadyrail isolate add behind CN3 there
    steadyrail isolate add set says +5 V logic         # which is no evidence`
	c.Flags().BoolVar(&sure, "yes", false, "file it although it belongs to a later stage; stands before the entry")
	return c
}

func isolateSheet(s streams, dir, id *string) *cobra.Command {
	c := &cobra.Command{Use: "sheet FILE.yaml|NAME", Short: "Give the open job a board sheet: a file, or a kept one", Args: cobra.ExactArgs(1)}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if filepath.Ext(args[0]) != ".yaml" {
			return fileIsolate(cmd.Context(), s, *dir, *id, dashboards.IsolateAsk{Board: args[0]})
		}
		text, err := sheetText(s, args[0])
		if err != nil {
			return err
		}
		return fileIsolate(cmd.Context(), s, *dir, *id, dashboards.IsolateAsk{Sheet: text})
	}
	return c
}

// sheetText checks a sheet here, where its lines can be told with its file's
// name, and returns it.
func sheetText(s streams, path string) (string, error) {
	if _, err := boardFile(s, path); err != nil {
		return "", err
	}
	text, err := os.ReadFile(path)
	return string(text), err
}

func isolateAnew(s streams, dir, id *string) *cobra.Command {
	c := &cobra.Command{Use: "anew --why TEXT", Short: "Begin anew: what was read before does not count any more", Args: cobra.NoArgs}
	why := c.Flags().String("why", "", "what is another now: PS2 replaced")
	_ = c.MarkFlagRequired("why")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		return fileIsolate(cmd.Context(), s, *dir, *id, dashboards.IsolateAsk{Anew: *why})
	}
	return c
}

func fileIsolate(ctx context.Context, s streams, dir, id string, ask dashboards.IsolateAsk) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	res, err := d.post(ctx, "/api/v1/isolate", struct {
		Job string `json:"job,omitempty"`
		dashboards.IsolateAsk
	}{id, ask})
	return told(s, res, err)
}

// showSearch prints what contradicts first, then the two-by-two, the ledger, what
// is likely, and what to do.
// What does not count is told in short, or all of it.
func showSearch(s streams, f capture.FaultSearch, all bool) {
	line := func(format string, args ...any) {
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf(format, args...)))
	}
	if f.Job != "" {
		line("%s: %s.", f.Job, strings.TrimSuffix(f.Say, "."))
	}
	for _, c := range f.Contradictions {
		line("Contradiction: %s", c)
	}
	for _, c := range f.Figures {
		line("Not as the sheet has it: %s", c)
	}
	for _, t := range f.TwoByTwo {
		if t.Source != "" || t.Loaded != "" || f.Job != "" {
			line("Two by two: %s", t.Say)
		}
	}
	for _, l := range f.Ledger {
		line("Lifted %s: %s", l.Part, ledgerText(l))
	}
	for _, w := range f.Walks {
		line("Walk along %s: %s", w.Rail, w.Say)
	}
	for _, u := range notCounted(f, all) {
		line("Not counted: %s", u)
	}
	showRanking(s, f)
	for _, l := range f.Limits {
		line("Before a lift: %s", l.Say)
	}
	showNext(s, f)
	s.say("Mains and charged capacitors can kill: local codes and licensed practice govern work on them.\nProbabilities rest on the sheet and on priors that are stated, not measured: a part is convicted by its own reading.")
}

// notCounted is what does not count, by reason or one by one.
func notCounted(f capture.FaultSearch, all bool) (out []string) {
	if all {
		for _, u := range f.Unused {
			out = append(out, u.Say)
		}
		return out
	}
	for _, g := range f.UnusedBy {
		out = append(out, g.Text(time.Local))
	}
	if len(f.Unused) > len(f.UnusedBy) {
		out = append(out, "each of them is told by --all")
	}
	return out
}

func ledgerText(l capture.LedgerLine) string {
	out := l.Say
	if l.AfterText != "" {
		out = fmt.Sprintf("%s %s before, %s after. %s", l.Rail, l.BeforeText, l.AfterText, l.Say)
	}
	if l.Back {
		out += " It was put back."
	}
	if l.Change != "" {
		out += " " + l.Change
	}
	return out
}

func showRanking(s streams, f capture.FaultSearch) {
	for i, x := range f.Explanations {
		if i == toldAtMost {
			fmt.Fprintf(s.out, "  and %d more below %.1f %%\n", len(f.Explanations)-i, 100*f.Explanations[i-1].Share)
			break
		}
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %4.1f %%  %s", 100*x.Share, x.Say)))
	}
	for _, say := range []string{f.Sensitivity, f.Trust} {
		if say != "" {
			fmt.Fprintln(s.out, fitted(s.out, say))
		}
	}
}

func showNext(s streams, f capture.FaultSearch) {
	switch {
	case f.Board == "" && len(f.Explanations) == 0:
		fmt.Fprintln(s.out, fitted(s.out, "Next: give the job a board sheet, then explanations are ranked: steadyrail isolate sheet FILE.yaml"))
	case f.Next == nil:
		fmt.Fprintln(s.out, "Next: nothing on the sheet that is safe would tell more.")
	default:
		fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("Next: %s (about %.1f min)", f.Next.Say, f.Next.Minutes)))
		if f.Next.Could != "" {
			fmt.Fprintln(s.out, fitted(s.out, "  "+f.Next.Could))
		}
		fmt.Fprintln(s.out, fitted(s.out, "  "+f.Next.Why))
	}
}
