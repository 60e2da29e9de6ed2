package cli

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
)

// screw is one use of trim.
type screw struct {
	job, rail          string
	once, asJSON, mark bool
	load, input, span  string
	turned, trimmer    float64
	turnedSaid         bool
}

func trimCommand(s streams) *cobra.Command {
	var o screw
	c := &cobra.Command{
		Use:   "trim RAIL",
		Short: "Follow a rail while its trimmer is turned, in large figures",
		Long: `Follow a rail while its trimmer is turned: how far it is off, which way the screw goes, and
what the touches so far were worth. The rail is named, or its number on the job's sheet.
  steadyrail trim 1
  steadyrail trim 1 --turned 0.75       3/4 of a turn up (-0.75: down)
  steadyrail trim 1 --trimmer 25 --span "1 V"
  steadyrail trim 1 --mark --load "0.6 A" --input "24 V"
How far the screw went is known to nobody but you: without it a touch is told by what it
moved, and no turn is promised. --mark keeps the steady value; two marks under two loads at
one input give the load regulation, which is another thing than the shift by fitting in.
On the page /trim the same is heard: pips that come home, a chord inside the band.`,
		Args: cobra.ExactArgs(1),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	f := c.Flags()
	f.BoolVar(&o.once, "once", false, "say it once, and end")
	f.BoolVar(&o.asJSON, "json", false, "write it as JSON, once, for scripts")
	f.Float64Var(&o.turned, "turned", 0, "record how far the screw went, in turns, up positive")
	f.Float64Var(&o.trimmer, "trimmer", 0, "declare the trimmer: turns from end to end, with --span")
	f.StringVar(&o.span, "span", "", "volts between the trimmer's ends: \"1 V\"")
	f.BoolVar(&o.mark, "mark", false, "keep the steady value as it is now")
	f.StringVar(&o.load, "load", "", "what the load draws, for --mark: \"0.6 A\", 0 for none")
	f.StringVar(&o.input, "input", "", "input voltage, for --mark: \"24 V\"")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		o.rail, o.job = args[0], *id
		o.turnedSaid = cmd.Flags().Changed("turned")
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		act, any, err := o.act()
		if err != nil {
			return err
		}
		if any {
			res, err := d.act(cmd.Context(), o.job, act)
			return told(s, res, err)
		}
		return o.follow(cmd.Context(), s, d)
	}
	return c
}

// act is what the flags ask to be recorded; false when they only look.
func (o *screw) act() (capture.Act, bool, error) {
	switch {
	case o.turnedSaid:
		if o.turned == 0 {
			return capture.Act{}, false, usef("--turned: say how far, 0.75 or -0.5")
		}
		return capture.Act{Verb: capture.ActTurn, Subject: o.rail, Value: o.turned}, true, nil
	case o.trimmer != 0 || o.span != "":
		if o.trimmer <= 0 || o.span == "" {
			return capture.Act{}, false, usef(`trim: --trimmer and --span belong together: --trimmer 25 --span "1 V"`)
		}
		return capture.Act{Verb: capture.ActTrimmer, Subject: o.rail, Value: o.trimmer, Text: o.span}, true, nil
	case o.mark:
		as := capture.MarkedAs{From: "typed"}
		for _, part := range []struct {
			flag, text string
			unit       capture.Unit
			to         **float64
		}{{"load", o.load, capture.Ampere, &as.Load}, {"input", o.input, capture.Volt, &as.Input}} {
			if part.text == "" {
				continue
			}
			v, _, err := part.unit.ParseTyped(part.text, capture.Point)
			if err != nil {
				return capture.Act{}, false, usef("--%s: %v", part.flag, err)
			}
			*part.to = &v
		}
		return capture.Act{Verb: capture.ActMark, Subject: o.rail, Text: as.Text()}, true, nil
	case o.load != "" || o.input != "":
		return capture.Act{}, false, usef("--load and --input say under what a value is marked: add --mark")
	}
	return capture.Act{}, false, nil
}

// showTrims prints what presetting and trimming came to, rail by rail.
func showTrims(out io.Writer, rails []capture.RailEvidence) {
	for _, r := range rails {
		for _, say := range r.Trim {
			fmt.Fprintln(out, fitted(out, "trim  "+r.Rail.Name+": "+say+"."))
		}
	}
}

// lookEvery is how often a terminal is drawn anew.
const lookEvery = 200 * time.Millisecond

// follow draws until it is interrupted; where nobody looks, it says each new
// sentence as a line.
func (o *screw) follow(ctx context.Context, s streams, d *client) error {
	path := "/api/v1/trim?" + url.Values{"rail": {o.rail}, "job": {o.job}}.Encode()
	seen := ""
	for {
		var t capture.Trimming
		if err := d.get(ctx, path, &t); err != nil {
			return err
		}
		switch {
		case o.asJSON:
			return writeJSON(s.out, t)
		case o.once:
			sayTrim(s.out, t)
			return nil
		case isTerminal(s.out):
			drawTrim(s.out, t)
		case t.Say+t.Next != seen:
			sayTrim(s.out, t)
		}
		seen = t.Say + t.Next
		pause := time.NewTimer(lookEvery)
		select {
		case <-pause.C:
		case <-ctx.Done():
			pause.Stop()
			return nil
		}
	}
}

// sayTrim says it in lines.
func sayTrim(out io.Writer, t capture.Trimming) {
	value := ""
	if t.State != "no reading" {
		value = "  " + capture.Volt.Text(t.Value, t.Resolution)
	}
	fmt.Fprintf(out, "%s%s  %s; %s\n", t.Rail, value, t.Say, t.Next)
	for _, line := range trimLines(t) {
		fmt.Fprintln(out, "  "+fitted(out, line))
	}
}

// trimLines is what stands below the order.
func trimLines(t capture.Trimming) []string {
	var out []string
	out = append(out, t.Notes...)
	if t.Course.Say != "" {
		out = append(out, "If left alone: "+t.Course.Say+".")
	}
	for _, f := range t.Findings {
		out = append(out, f+".")
	}
	return out
}

// drawTrim fills the terminal: the value and the way in figures of five lines.
func drawTrim(out io.Writer, t capture.Trimming) {
	var b strings.Builder
	b.WriteString("\x1b[H\x1b[2J" + t.Rail + "\n\n")
	value := "- - -"
	if t.State != "no reading" {
		value = strings.Replace(strconv.FormatFloat(t.Value, 'f', capture.Decimals(max(t.Resolution, 0.001), t.Value), 64), "\u2212", "-", 1)
	}
	wide := terminalColumns(out)
	b.WriteString(large(turned(out, value+" V"), wide) + "\n" + large(way(t), wide))
	fmt.Fprintf(&b, "\n%s\n%s\n\n", t.Say, t.Next)
	for _, line := range trimLines(t) {
		b.WriteString(fitted(out, line) + "\n")
	}
	_, _ = io.WriteString(out, b.String()) // a terminal that is gone is told by the next interrupt
}

// way is the one word to turn by.
func way(t capture.Trimming) string {
	switch {
	case t.State == "no reading":
		return "WAIT"
	case t.State == "not up":
		return "NOT UP"
	case t.Say == "On target":
		return "LEAVE"
	case !t.Steady:
		return "WAIT"
	case t.Off < 0:
		return "UP"
	}
	return "DOWN"
}
