package cli

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards/report"
	"steadyrail/rules"
)

func reportCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "report JOB --out FILE.html",
		Short: "Write the report of a job: one self-contained page",
		Long: `Write the report of a job: one self-contained page. A daemon that runs writes it with the
decimal mark of its configuration. When none runs, or a file is named, the mark is that of
--decimal, or of the configuration named with --config, and else a point.`,
		Args: cobra.ExactArgs(1),
	}
	dir, out, mark := workspaceFlag(c), outFlag(c), markFlags(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		decimal, err := mark.read(s)
		if err != nil {
			return err
		}
		if _, err := store.ReadLock(*dir); err == nil && mark.decimal != "" && !isFile(args[0]) {
			return usef("report: the running daemon writes it with the decimal mark of its own configuration; for another, name the job's file: steadyrail report %s", (&bench{dir: *dir}).jobFile(args[0]))
		}
		return fromJob(cmd.Context(), s, *dir, args[0], *out, "report", nil, func(f *store.Job, b *job.Book, w io.Writer) error {
			o := report.Options{Zone: time.Local, Decimal: decimal, Version: Version(), Written: capture.InstantOf(time.Now())}
			if !isFile(args[0]) {
				o.Return = leftBefore(cmd.Context(), *dir, f, b)
			}
			return app.Report(cmd.Context(), f, b, w, o)
		})
	}
	return c
}

func outFlag(c *cobra.Command) *string {
	out := c.Flags().String("out", "", "file to write; - for stdout")
	_ = c.MarkFlagRequired("out")
	return out
}

// fromJob writes something computed from a job: by the daemon when one runs,
// which has the newest readings, else from the file. What is written goes past b.
func fromJob(ctx context.Context, s streams, dir, id, out, what string, b *bar, write func(*store.Job, *job.Book, io.Writer) error) error {
	holder, err := store.ReadLock(dir)
	if err == nil && holder.Address != "" && !isFile(id) {
		bench, err := openBench(dir)
		if err != nil {
			return err
		}
		d, err := bench.must()
		if err != nil {
			return err
		}
		return writeFile(s, out, func(w io.Writer) error { return b.finish(d.download(ctx, jobPath(id, what), b.lines(w))) })
	}
	return readJob(ctx, s, dir, id, func(f *store.Job, book *job.Book) error {
		return writeFile(s, out, func(w io.Writer) error { return b.finish(write(f, book, b.lines(w))) })
	})
}

func replayCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "replay JOB",
		Short: "Judge a stored job again, by the same rules or by others",
		Long:  replayLong,
		Args:  cobra.ExactArgs(1),
	}
	dir := workspaceFlag(c)
	asJSON := jsonFlag(c)
	rulesFile := c.Flags().String("rules", "", "file with other rules and formulas: tell what would have been")
	only := c.Flags().Bool("only", false, "with --rules: judge by the file alone, without what follows from the rails")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		ctx := cmd.Context()
		if *only && *rulesFile == "" {
			return usef("replay: --only belongs to --rules FILE")
		}
		return readJob(ctx, s, *dir, args[0], func(f *store.Job, b *job.Book) error {
			if *rulesFile != "" {
				return whatIf{*rulesFile, *only, *asJSON}.run(ctx, s, f, b)
			}
			again, recorded, err := replay(ctx, f)
			if err != nil {
				return err
			}
			if *asJSON {
				if err := writeJSON(s.out, again); err != nil {
					return err
				}
			} else {
				for _, t := range again {
					fmt.Fprintf(s.out, "%s  %s -> %s  %s\n", t.At.Time().Local().Format("15:04:05.000"), t.From, t.To, t.Say)
				}
			}
			if !slices.EqualFunc(again, recorded, sameTransition) {
				return judged(fmt.Errorf("replay of %s gives %d transitions, %d are on record, and they are not the same", args[0], len(again), len(recorded)))
			}
			s.say("%d transitions, the same as on record", len(again))
			return nil
		})
	}
	return c
}

// replay judges a job again and returns what comes out beside what is on
// record.
func replay(ctx context.Context, f *store.Job) (again, recorded []capture.Transition, err error) {
	upto, err := f.Upto(ctx)
	if err != nil {
		return nil, nil, err
	}
	records := func(yield func(capture.Record) error) error { return f.Records(ctx, 0, 0, yield) }
	if again, err = rules.Replay(ctx, records, upto); err != nil {
		return nil, nil, err
	}
	recorded, err = f.Transitions(ctx)
	return again, recorded, err
}

func sameTransition(a, b capture.Transition) bool {
	return a.At == b.At && a.Alarm == b.Alarm && a.From == b.From && a.To == b.To && a.Say == b.Say && a.Value == b.Value && a.Muted == b.Muted
}
