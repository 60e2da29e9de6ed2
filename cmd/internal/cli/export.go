package cli

import (
	"io"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards/export"
)

func exportCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "export JOB --out FILE.csv",
		Short: "Write every reading of a job as CSV",
		Long: `Write every reading of a job as CSV, a line each: RFC 4180, times after ISO 8601 with
microseconds and the offset from UTC, values in base units. With --decimal comma numbers have
a comma and cells are parted by semicolons, as spreadsheets in many languages want it; the
column "text" is what the instrument sent and stays as it was.`,
		Args: cobra.ExactArgs(1),
	}
	dir, out := workspaceFlag(c), outFlag(c)
	decimal := c.Flags().String("decimal", "point", "point, with commas between cells, or comma, with semicolons")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		ctx := cmd.Context()
		mark, err := capture.ParseDecimalMark(*decimal)
		if err != nil {
			return usef("--decimal: %w", err)
		}
		what := "export"
		if mark != capture.Point {
			what += "?decimal=" + mark.String()
		}
		var b *bar
		if *out != "-" || !isTerminal(s.out) {
			if b = newBar(s, "writing", 0); b != nil {
				b.total = recordsOf(ctx, (&bench{dir: *dir}).jobFile(args[0]))
			}
		}
		return fromJob(ctx, s, *dir, args[0], *out, what, b, func(f *store.Job, _ *job.Book, w io.Writer) error {
			return app.Export(ctx, f, w, export.Options{Zone: time.Local, Mark: mark})
		})
	}
	return c
}
