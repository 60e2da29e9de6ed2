package cli

import (
	"context"
	"io"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/configs"
	"steadyrail/rules/diagnose"
)

func boardsSave(s streams, dir *string) *cobra.Command {
	return &cobra.Command{Use: "save JOB [FILE.yaml]", Short: "Save a sheet from a job, with what its rails read healthy",
		Long: `Save a sheet from a job: its own sheet, or one with its rails alone to fill in, and what
the rails read cold with everything on the board. A rail that reads short is left out.
Without FILE it goes into the workspace; - is standard output.`,
		Args: cobra.RangeArgs(1, 2), RunE: func(cmd *cobra.Command, args []string) error {
			b, err := boardOfJob(cmd.Context(), s, *dir, args[0])
			if err != nil {
				return err
			}
			text := configs.WriteBoard(b)
			if _, problems := configs.ParseBoard("sheet", text); len(problems) > 0 {
				configs.Explain(s.err, problems)
				return usef("boards save: the rails of %s make no sheet", args[0])
			}
			if len(args) == 1 {
				return keepBoard(s, *dir, b, text)
			}
			return writeFile(s, args[1], func(w io.Writer) error { _, err := w.Write(text); return err })
		}}
}

// boardOfJob reads a job's sheet and adds what its rails read healthy.
func boardOfJob(ctx context.Context, s streams, dir, id string) (b diagnose.Board, err error) {
	trail, sheet, err := trailOf(ctx, s, dir, id)
	if err != nil {
		return b, err
	}
	b = bareBoard(sheet)
	if text := trail.Sheet(); text != "" {
		own, problems := configs.ParseBoard("sheet of "+id, []byte(text))
		if len(problems) > 0 {
			configs.Explain(s.err, problems)
			return b, &exitError{code: exitUse}
		}
		b = *own
	}
	for _, h := range trail.Rested() {
		r, on := b.Rail(h.Rail)
		switch {
		case !on:
		case h.Ohms < r.ShortBelow:
			s.say("%s reads short or was not read: left out", h.Rail)
		default:
			b.Healthy = slices.DeleteFunc(b.Healthy, func(o diagnose.Healthy) bool { return o.Rail == h.Rail })
			h.Ohms, h.Reversed = fiveDigits(h.Ohms), fiveDigits(h.Reversed)
			b.Healthy = append(b.Healthy, h)
		}
	}
	return b, nil
}

// fiveDigits rounds a mean to what a person would write down: no meter of a bench
// tells more of a rail's ohms.
func fiveDigits(ohms float64) float64 {
	v, _ := strconv.ParseFloat(strconv.FormatFloat(ohms, 'g', 5, 64), 64) // it was just written
	return v
}

// bareBoard is a sheet with rails alone, each from a source of its own: what
// feeds what is to be filled in.
func bareBoard(sheet capture.Sheet) diagnose.Board {
	b := diagnose.Board{Name: sheet.Board, Rails: sheet.Rails}
	for _, r := range sheet.Rails {
		b.Sources = append(b.Sources, diagnose.Source{Name: "source of " + r.Name, Rail: r.Name})
	}
	return b
}

// trailOf folds a job's file.
func trailOf(ctx context.Context, s streams, dir, id string) (trail *diagnose.Trail, sheet capture.Sheet, err error) {
	trail = new(diagnose.Trail)
	err = readJob(ctx, s, dir, id, func(f *store.Job, b *job.Book) error {
		sheet = b.Sheet()
		return f.Records(ctx, 0, 0, func(rec capture.Record) error {
			trail.Consume(rec)
			return nil
		})
	})
	return trail, sheet, err
}
