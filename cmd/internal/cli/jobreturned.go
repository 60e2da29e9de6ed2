package cli

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
)

func jobReturned(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "returned [JOB]", Short: "Compare how a set left with how it came back", Args: cobra.MaximumNArgs(1),
		Long: `Compare how a set left with how it came back: the last figure of each rail in the job before,
of the same serial number, against the first of this one, with the uncertainty of the
difference.`,
	}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		id := strings.Join(args, "")
		if id == "" {
			var err error
			if id, err = newestOpen(cmd.Context(), s, *dir, "job returned AB-0147"); err != nil {
				return err
			}
		}
		r, err := returned(cmd.Context(), s, *dir, id)
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, map[string]any{"returned": r})
		}
		showReturned(s, id, r)
		return nil
	}
	return c
}

// returned asks the daemon, or reads the files when none runs.
func returned(ctx context.Context, s streams, dir, id string) (*capture.Return, error) {
	b, err := openBench(dir)
	if err != nil {
		return nil, err
	}
	if b.daemon != nil {
		var answer struct {
			Returned *capture.Return `json:"returned"`
		}
		err := b.daemon.get(ctx, jobPath(id, "returned"), &answer)
		return answer.Returned, err
	}
	path, err := findJob(s, dir, id) // before this program holds the workspace itself
	if err != nil {
		return nil, err
	}
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return nil, err
	}
	defer w.Close()
	var out *capture.Return
	err = app.ReadFile(ctx, path, func(f *store.Job, book *job.Book) error {
		out, err = app.Before(ctx, w, f, book)
		return err
	})
	return out, foreign(err)
}

// leftBefore compares a job of a workspace that no daemon holds; nil when it
// cannot: a report without it is better than none.
func leftBefore(ctx context.Context, dir string, f *store.Job, b *job.Book) *capture.Return {
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return nil
	}
	defer w.Close()
	out, _ := app.Before(ctx, w, f, b)
	return out
}

func showReturned(s streams, id string, r *capture.Return) {
	if r == nil {
		fmt.Fprintf(s.out, "No job of the same serial number was closed before %s was opened; others are not compared: steadyrail job list --serial NUMBER\n", id)
		return
	}
	if len(r.Rails) == 0 {
		fmt.Fprintf(s.out, "It left with job %s, closed %s: no rail of the same name was measured there, so nothing can be compared.\n", r.Job, day(r.Left))
		return
	}
	fmt.Fprintf(s.out, "As it left job %s, closed %s, and as it returned:\n", r.Job, day(r.Left))
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for _, line := range r.Rails {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", line.Rail, figureWith(line.Left), figureWith(line.Back), line.Say)
	}
	w.Flush()
}

// figureWith is a figure with its uncertainty.
func figureWith(r *capture.Result) string {
	if r == nil {
		return "-"
	}
	text := r.Quantity.Unit().Text(r.Value, r.Resolution)
	if r.Uncertainty > 0 {
		text += " ± " + r.Quantity.Unit().Text(r.Uncertainty, r.Resolution)
	}
	return text
}
