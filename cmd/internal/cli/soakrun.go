package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/dashboards"
)

const soakLong = `Start or stop the soak. With a plan it warms up until settled, walks input set-points and loads,
switches power off and on, and soaks for what is left of --for, which counts time under power:
  steadyrail soak start --for 24h
  steadyrail soak start --for 24h --warm 1h
  steadyrail soak start --for 24h --cycles 10 --on 20m --off 10m --output supply
  steadyrail soak start --for 24h --steps "22 V, 26 V" --each 9m --output supply
  steadyrail soak start --for 24h --loads "0.2 A, 0.6 A" --each 30m --load load
  steadyrail soak start --plan night.yaml
What a plan switches is told and asked back once; it needs what "output on" needs. It stops at the
first alarm. After a restart it measures on where it was, and switches nothing again before
steadyrail soak resume. How long a soak must be: steadyrail soak plan.`

// regimenHelp explains the flags of a plan.
var regimenHelp = map[string]string{
	"warm": "warm-up first, until settled or so long at most: 1h", "cycles": "power off and on so many times", "on": "of a cycle: 20m", "off": "of a cycle: 10m",
	"output": "supply output that the plan switches", "steps": "input set-points, one after the other: \"22 V, 24 V, 26 V\"", "load": "electronic load that the plan sets",
	"loads": "its currents, one after the other: \"0.2 A, 0.6 A\"", "each": "length of each step: 30m", "back": "volts to go back to after the steps; as they were set before when left out",
}

func regimenFlags(c *cobra.Command) map[string]*string {
	texts := map[string]*string{}
	for _, key := range capture.RegimenKeys {
		if help, ok := regimenHelp[key]; ok {
			texts[key] = c.Flags().String(key, "", help)
		}
	}
	return texts
}

func anyRegimen(texts map[string]*string) bool {
	for _, key := range capture.RegimenKeys {
		if t := texts[key]; t != nil && *t != "" {
			return true
		}
	}
	return false
}

// startRegimen has a plan checked, agreed to and begun.
func startRegimen(ctx context.Context, s streams, dir, id string, yes bool, planned time.Duration, texts map[string]*string) error {
	plan, err := capture.TypedRegimen(func(key string) string {
		if key == "for" {
			return planned.String()
		}
		return *texts[key]
	})
	if err != nil {
		return usef("soak start: %v", err)
	}
	return soakAgreed(ctx, s, dir, id, yes, dashboards.SoakRequest{Plan: &plan})
}

// startFile is startRegimen with the plan from a file.
func startFile(ctx context.Context, s streams, dir, id string, yes bool, path string) error {
	plan, problems := configs.LoadSoakPlan(path)
	if len(problems) > 0 {
		configs.Explain(s.err, problems)
		return &exitError{code: exitUse}
	}
	return soakAgreed(ctx, s, dir, id, yes, dashboards.SoakRequest{Plan: &plan})
}

// soakAgreed asks the daemon, has what would be switched agreed to, and asks
// again with the permit.
func soakAgreed(ctx context.Context, s streams, dir, id string, yes bool, r dashboards.SoakRequest) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	ask := func() (a dashboards.SoakAnswer, err error) {
		return a, d.send(ctx, "/api/v1/soak", struct {
			Job string `json:"job,omitempty"`
			dashboards.SoakRequest
		}{id, r}, &a)
	}
	a, err := ask()
	if err != nil || a.Permit == nil {
		return told(s, a.Result, err)
	}
	fmt.Fprintln(s.err, fitted(s.err, a.Permit.Say))
	for _, n := range a.Permit.Notes {
		fmt.Fprintln(s.err, fitted(s.err, n))
	}
	if !yes {
		sure, err := newAsker(s.in, s.err, fromTerminal(s.in)).yes(ctx, "Let it")
		if err != nil || !sure {
			return usef("nothing was begun: nobody said yes; --yes answers for a script")
		}
	}
	r.Permit, r.Plan = a.Permit.Code, nil
	a, err = ask()
	return told(s, a.Result, err)
}

func soakShowCommand(s streams, dir, id *string) *cobra.Command {
	c := &cobra.Command{
		Use: "show", Short: "Say how far the soak is, and what it proves so far", Args: cobra.NoArgs,
	}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		var state capture.RegimenState
		if err := d.get(cmd.Context(), "/api/v1/soak?job="+*id, &state); err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, state)
		}
		return showSoak(s.out, state)
	}
	return c
}

func showSoak(out io.Writer, state capture.RegimenState) error {
	for _, line := range state.Say {
		fmt.Fprintln(out, fitted(out, line))
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for i, st := range state.Steps {
		word := st.State
		switch {
		case word == "":
			word = "to come"
		case st.Verdict != "":
			word += ", " + st.Verdict
		}
		fmt.Fprintf(w, "%d\t%s\t%s\n", i+1, st.Say, word)
	}
	return errors.Join(w.Flush())
}

func soakResumeCommand(s streams, dir, id *string) *cobra.Command {
	c := &cobra.Command{
		Use: "resume", Short: "Let the plan of a soak switch again after a restart", Args: cobra.NoArgs,
		Long: `Let the plan of a soak switch again after a restart of the daemon or the computer. It measured on
by itself; what it switches is told and asked back once more.`,
	}
	yes := yesFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		return soakAgreed(cmd.Context(), s, *dir, *id, *yes, dashboards.SoakRequest{Resume: true})
	}
	return c
}
