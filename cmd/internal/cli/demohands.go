package cli

import (
	"context"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/cmd/internal/story"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// practise lays out the bench for a person's own hands and keeps it up.
func (d *demo) practise(ctx context.Context, s streams, b *story.Demo) error {
	laid, err := b.Lay(ctx, s.out)
	if err != nil {
		return err
	}
	dir, err := filepath.Abs(d.workspace)
	if err != nil {
		return err
	}
	fmt.Fprintln(s.out, "\n"+fitted(s.out, laid.Say))
	fmt.Fprintf(s.out, practice, laid.Job, b.App.Address(), url.QueryEscape(b.App.Token()), pasted(dir))
	if d.length == 0 {
		fmt.Fprintf(s.out, "Ctrl-C ends it; job and set go on here, as hands left them, with\n  steadyrail demo --plain --workspace %s\n", pasted(dir))
		tellLag(ctx, s.out, b.Clock)
		return nil
	}
	ctx, over := context.WithTimeout(ctx, d.length)
	defer over()
	tellLag(ctx, s.out, b.Clock)
	return nil
}

func handsCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "hands [WORDS]",
		Short: "Move probes and parts of a running demo, let things go wrong",
		Long: `Move what lies on the simulated bench of a running demo; without words, say where
everything is and what hands can do:
  steadyrail demo hands
  steadyrail demo hands probe dmm TP5
  steadyrail demo hands part PS2 out
  steadyrail demo hands turn -0.25
  steadyrail demo hands fault input joint 1.8s
The record learns nothing of it: tell steadyrail, too, with place, isolate add and the like.`,
		Args: cobra.ArbitraryArgs,
	}
	dir, asJSON := workspaceFlag(c), jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		if len(args) > 0 {
			var res dashboards.Result
			err := d.send(cmd.Context(), "/demo/hands", map[string][]string{"do": args}, &res)
			return told(s, res, err)
		}
		var look web.Hands
		if err := d.get(cmd.Context(), "/demo/hands", &look); err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, look)
		}
		return showHands(s, look)
	}
	return c
}

// showHands says where everything is, and what hands can do.
func showHands(s streams, h web.Hands) error {
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for _, p := range h.Probes {
		at := "in the air"
		if p.At != "" {
			at = "on " + p.At
		}
		if p.Clip {
			at += ", clipped"
		}
		fmt.Fprintf(w, "%s\t%s\n", p.Meter, at)
	}
	for _, p := range h.Parts {
		fmt.Fprintf(w, "%s\t%s\n", p.Name, map[bool]string{true: "in its place", false: "off the board"}[p.In])
	}
	fmt.Fprintf(w, "supply leads\ton %s\nbench time\t%s\n", h.Feed, h.Pace())
	if err := w.Flush(); err != nil {
		return err
	}
	if lag := h.Lag(); lag != "" {
		fmt.Fprintln(s.out, lag+".")
	}
	fmt.Fprintf(s.out, "\nPoints: %s; for thermo: %s\n\n", strings.Join(h.Points, ", "), strings.Join(h.Warm, ", "))
	for _, u := range h.Usage {
		fmt.Fprintln(s.out, "  "+u)
	}
	fmt.Fprintln(s.out, "\nWhat can go wrong:")
	for _, f := range h.Faults {
		fmt.Fprintf(w, "  fault %s\t%s\n", f.Usage, f.Says)
	}
	return w.Flush()
}
