package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

func outputCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "output OUTPUT on|off",
		Short: "Switch a supply's output; on needs a permit and is asked back",
		Long: `Switch a supply's output, read back: steadyrail output supply off, or psu/1 of several.
On needs a permit: the cold check of every rail of the job has passed, and the supply's own
over-voltage and over-current were programmed and read back in this job (steadyrail limits).
It is asked back then; --yes answers for a script.
A second line, not a safety device. Charged capacitors stay charged.`,
		Args: cobra.ExactArgs(2), ValidArgs: []string{"on", "off"},
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	yes := yesFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		switch args[1] {
		case "off":
			return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActOutput, Subject: args[0], Text: "off"})
		case "on":
			return permitted(cmd.Context(), s, *dir, *id, *yes, dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: args[0]})
		}
		return usef("an output goes on or off, not %q", args[1])
	}
	return c
}

func yesFlag(c *cobra.Command) *bool {
	return c.Flags().Bool("yes", false, "switch on without asking back: for scripts, on your answer")
}

// permitted asks for a permit, has it confirmed, and uses it.
func permitted(ctx context.Context, s streams, dir, id string, yes bool, r dashboards.PermitRequest) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	var p dashboards.Permit
	err = d.send(ctx, "/api/v1/permits", struct {
		Job string `json:"job,omitempty"`
		dashboards.PermitRequest
	}{id, r}, &p)
	if err != nil {
		return err
	}
	fmt.Fprintln(s.err, p.Say)
	for _, n := range p.Notes {
		fmt.Fprintln(s.err, n)
	}
	if !yes {
		sure, err := newAsker(s.in, s.err, fromTerminal(s.in)).yes(ctx, "Switch it on")
		if err != nil || !sure {
			return usef("%s stays as it is: nobody said yes; --yes answers for a script", r.Subject)
		}
	}
	res, err := d.post(ctx, "/api/v1/acts", struct {
		Job    string `json:"job,omitempty"`
		Permit string `json:"permit"`
		capture.Act
	}{id, p.Code, capture.Act{Verb: capture.ActOutput, Subject: r.Subject, Text: "on"}})
	return told(s, res, err)
}

// quantity is a figure with or without its unit, on the command line.
type quantity struct {
	unit  capture.Unit
	value float64
	set   bool
}

func (q *quantity) String() string {
	if !q.set {
		return ""
	}
	return strconv.FormatFloat(q.value, 'f', -1, 64)
}

// Type names it in the help.
func (q *quantity) Type() string { return strings.ToUpper(q.unit.ASCII()) }

// Set reads 0.3, 0.3V, 500mA.
func (q *quantity) Set(text string) error {
	v, _, err := q.unit.ParseTyped(text, capture.Point)
	if err != nil {
		return err
	}
	if v < 0 {
		return fmt.Errorf("%q is below nothing", text)
	}
	q.value, q.set = v, true
	return nil
}

func quantityFlag(c *cobra.Command, name string, unit capture.Unit, help string) *quantity {
	q := &quantity{unit: unit}
	c.Flags().Var(q, name, help)
	return q
}

func limitsCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "limits OUTPUT",
		Short: "Set a supply's voltage, current and protection, and read them back",
		Long: `Set what a supply gives and its own protection, each read back:
  steadyrail limits supply --volts 24 --amps 1 --ovp 26 --ocp 1.5
What is left out stays as it is. Over-voltage and over-current, read back, arm a trip and
are asked for before the output may go on.`,
		Args: cobra.ExactArgs(1),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	flags := []struct {
		limit string
		q     *quantity
	}{
		{"volts", quantityFlag(c, "volts", capture.Volt, "voltage that is set")},
		{"amperes", quantityFlag(c, "amps", capture.Ampere, "current limit that is set")},
		{capture.OverVoltage, quantityFlag(c, "ovp", capture.Volt, "over-voltage protection")},
		{capture.OverCurrent, quantityFlag(c, "ocp", capture.Ampere, "over-current protection")},
	}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		var list []string
		for _, f := range flags {
			if f.q.set {
				list = append(list, f.limit+" "+f.q.String())
			}
		}
		if len(list) == 0 {
			return usef("limits: say what to set: --volts, --amps, --ovp, --ocp")
		}
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActLimits, Subject: args[0], Text: strings.Join(list, ", ")})
	}
	return c
}

func injectCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "inject OUTPUT",
		Short: "Push a small current into a shorted rail for a minute",
		Long: `Give a rail that is short a small voltage and a limited current for 60 s, then off by itself:
  steadyrail inject supply --volts 0.3 --trace 1A --part 0.5A --lead 2A
At most 0.5 V. Its leads go on the shorted rail and its return first: on the board's input nothing
would flow. Say what the trace, the part and the lead may carry: the smallest is the current limit. Only in cold checks and while isolating, with the output off before.`,
		Args: cobra.ExactArgs(1),
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	yes := yesFlag(c)
	volts := quantityFlag(c, "volts", capture.Volt, "voltage, at most 0.5")
	trace := quantityFlag(c, "trace", capture.Ampere, "what the trace may carry")
	part := quantityFlag(c, "part", capture.Ampere, "what the part may carry")
	lead := quantityFlag(c, "lead", capture.Ampere, "what the lead may carry")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return permitted(cmd.Context(), s, *dir, *id, *yes, dashboards.PermitRequest{
			Kind: dashboards.PermitInject, Subject: args[0], Volts: volts.value, Trace: trace.value, Part: part.value, Lead: lead.value,
		})
	}
	return c
}
