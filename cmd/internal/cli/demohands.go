package cli

import (
	"context"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

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
	fmt.Fprintf(s.out, practice, laid.Job, b.App.Address(), url.QueryEscape(b.App.Token()), dir)
	if d.length == 0 {
		fmt.Fprintf(s.out, "Ctrl-C ends it; job and set go on here, as hands left them, with\n  steadyrail demo --plain --workspace %s\n", dir)
		<-ctx.Done()
		return nil
	}
	over := time.NewTimer(d.length)
	defer over.Stop()
	select {
	case <-over.C:
	case <-ctx.Done():
	}
	return nil
}

// practice says how a job is lived through by hand: the demo's hands do it, the
// other commands tell steadyrail, as at a real bench.
const practice = `Hands: http://%[2]s/demo?token=%[3]s
or, in another terminal:

  export STEADYRAIL_WORKSPACE=%[4]s
  steadyrail demo hands           # where everything is, and what hands can do

Hands move things, the other commands tell steadyrail. Before a probe leaves a rail, say so: place
without a rail takes it off, else what it reads on its way is filed under the rail. One way through,
h for steadyrail demo hands:

take-in
  steadyrail place thermo/celsius --point ambient --clipped
  steadyrail job indication "DSP fault"
cold checks
  steadyrail job stage "cold checks"
  h probe dmm leads shorted clip  # the two probes held together
  steadyrail place dmm/ohms --point "leads shorted"; steadyrail null dmm/ohms 0.18
  h probe dmm off; steadyrail place dmm/volts "+5 V logic" --point TP5; h probe dmm TP5
                                  # TP12, TP13, TP3 likewise: all in volts first, then in ohms,
                                  # each until job show has its word: an ohmmeter charges rails
isolate
  steadyrail job stage isolate; volts once more, then clip the ohms
  steadyrail place dmm/ohms "+5 V logic" --point TP5 --clipped; h probe dmm TP5 clip
  h part CN3 out; steadyrail isolate add lift CN3; steadyrail isolate; then C104 and PS2
  h part CN3 in; steadyrail isolate add put back CN3
  with PS2 out: steadyrail place dmm/ohms; h probe dmm PS2 pin out clip
  steadyrail place dmm/ohms --point "PS2 pin out" --clipped; steadyrail isolate finding PS2
live checks, with PS2 out
  steadyrail job stage "live checks"
  steadyrail limits supply --volts 24 --amps 1 --ovp 26 --ocp 1.5; steadyrail output supply on
  h probe dmm off; steadyrail place dmm/volts "+12 V audio" --point TP12; h probe dmm TP12
preset
  steadyrail output supply off; steadyrail job stage preset --why "the stand-in is chosen"
  steadyrail place dmm/volts; h feed stand-in; h probe dmm stand-in out clip
  steadyrail place dmm/volts "+5 V logic" --point "stand-in out" --clipped
  steadyrail limits supply --volts 24 --amps 0.2 --ovp 26 --ocp 0.3; steadyrail output supply on
  steadyrail trim 1 --once; h turn 5; steadyrail trim 1 --turned 5
trim, fitted and under load
  steadyrail output supply off; h part stand-in in; h feed board; steadyrail job stage trim
  steadyrail place dmm/volts; h probe dmm TP5 clip; h probe dmm2 TP12 clip
  h probe dmm3 TP13 clip; h probe dmm4 TP3 clip
  steadyrail place dmm/volts "+5 V logic" --point TP5 --clipped; and so on
  steadyrail limits supply --volts 24 --amps 1.5 --ovp 26 --ocp 2.25; steadyrail output supply on
warm-up and soak
  steadyrail job stage warm-up; h probe thermo stand-in case clip; steadyrail job stage soak
  steadyrail soak start --for 1h; h speed 60; h fault input joint 1.8s; h speed 1
sign-off
  steadyrail job stage sign-off; steadyrail report %[1]s --out report.html

`

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
