package cli

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

func dischargeCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "discharge",
		Short: "Empty a capacitor, watched and proven",
		Long: `Empty a capacitor through a resistor while a meter watches it: prove, test, prove.
  steadyrail discharge card --ohms 2.2k --farads 220u --volts 325 --watts 50
  steadyrail discharge prove dmm/volts --source supply
  steadyrail discharge begin dmm/volts --what C1 --ohms 2k --farads 1m --volts 9
  steadyrail discharge watch
  steadyrail discharge prove dmm/volts --source supply
  steadyrail discharge end
The level is touch (60 V: may be touched where it is dry, IEC 61140, from memory), work (5 V)
or ohms (50 mV, for an ohmmeter), or volts of your own. What is said is what was measured;
whether work may begin is judged by local codes and by who is licensed to do it.`,
	}
	c.AddCommand(dischargeCard(s), dischargeProve(s), dischargeBegin(s), dischargeEnd(s), dischargeWatch(s))
	return c
}

// cardFlags adds the figures of a card.
func cardFlags(c *cobra.Command, ask *dashboards.DischargeAsk) {
	f := c.Flags()
	f.StringVar(&ask.Ohms, "ohms", "", "resistor it is discharged through: 2.2k")
	f.StringVar(&ask.Farads, "farads", "", "capacitance, all that is in parallel: 220u")
	f.StringVar(&ask.Volts, "volts", "", "what it was charged to: 325")
	f.StringVar(&ask.Level, "level", "", "touch, work, ohms, or volts; work when left out")
	f.StringVar(&ask.Watts, "watts", "", "rating of the resistor; not judged when left out")
}

func dischargeCard(s streams) *cobra.Command {
	var ask dashboards.DischargeAsk
	c := &cobra.Command{Use: "card", Short: "Say how long it takes and what the resistor must bear", Args: cobra.NoArgs}
	asJSON := jsonFlag(c)
	cardFlags(c, &ask)
	c.RunE = func(*cobra.Command, []string) error {
		d, err := ask.Card(capture.Point)
		if err != nil {
			return use(err)
		}
		card := app.DischargeCard(d)
		if *asJSON {
			return writeJSON(s.out, card)
		}
		for _, line := range card.Say {
			fmt.Fprintln(s.out, fitted(s.out, line))
		}
		return nil
	}
	return c
}

func dischargeProve(s streams) *cobra.Command {
	var ask dashboards.DischargeAsk
	c := &cobra.Command{
		Use: "prove CHANNEL", Short: "Prove the meter on a source known to be live", Args: cobra.ExactArgs(1),
		Long: `Prove the meter on a source known to be live: an output of a supply, by its own reading, or a
battery. It is done before a discharge and again after it. What the meter shows is recorded,
right or wrong.`,
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.Flags().StringVar(&ask.Source, "source", "", "output of a supply that is on: supply; one of\nseveral: supply/1")
	c.Flags().StringVar(&ask.Battery, "battery", "", "volts of a battery: 9")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		ask.Channel = args[0]
		if ask.Source == "" && ask.Battery == "" {
			return usef("discharge prove: no known source is named: --source supply, an output that is on, or --battery 9, its volts")
		}
		s.say("Touch the known source with %s now, and hold it.", ask.Channel)
		return dischargeStep(cmd.Context(), s, *dir, *id, "prove", ask)
	}
	return c
}

func dischargeBegin(s streams) *cobra.Command {
	var ask dashboards.DischargeAsk
	c := &cobra.Command{Use: "begin CHANNEL", Short: "Begin to watch a capacitor while it is discharged", Args: cobra.ExactArgs(1)}
	dir, id := workspaceFlag(c), jobFlag(c)
	cardFlags(c, &ask)
	c.Flags().StringVar(&ask.What, "what", "", `the capacitor: "C1, bulk"`)
	c.Flags().StringVar(&ask.Rail, "rail", "", "rail that it is on, by name or number")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		ask.Channel = args[0]
		return dischargeStep(cmd.Context(), s, *dir, *id, "begin", ask)
	}
	return c
}

func dischargeEnd(s streams) *cobra.Command {
	c := &cobra.Command{Use: "end", Short: "End the watch and record what was measured", Args: cobra.NoArgs}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		return dischargeStep(cmd.Context(), s, *dir, *id, "end", dashboards.DischargeAsk{})
	}
	return c
}

func dischargeStep(ctx context.Context, s streams, dir, id, step string, ask dashboards.DischargeAsk) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	res, err := d.post(ctx, "/api/v1/discharge", struct {
		Job  string `json:"job,omitempty"`
		Step string `json:"step"`
		dashboards.DischargeAsk
	}{id, step, ask})
	return told(s, res, err)
}

// watchEvery is how often the count-down is said.
const watchEvery = time.Second

func dischargeWatch(s streams) *cobra.Command {
	c := &cobra.Command{
		Use: "watch", Short: "Count down until it is below the level", Args: cobra.NoArgs,
		Long: `Count down until it has stayed below the level for some seconds, or the watch has ended. With
--once it says how things stand. It ends with 1 when nothing is proven.`,
	}
	dir, id, asJSON := workspaceFlag(c), jobFlag(c), jsonFlag(c)
	once := c.Flags().Bool("once", false, "say it once")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		return watchDischarge(cmd.Context(), s, d, *id, *once, *asJSON)
	}
	return c
}

func watchDischarge(ctx context.Context, s streams, d *client, id string, once, asJSON bool) error {
	again := time.NewTicker(watchEvery)
	defer again.Stop()
	last := ""
	for {
		var cold web.Cold
		if err := d.get(ctx, "/api/v1/discharge?job="+url.QueryEscape(id), &cold); err != nil {
			return err
		}
		now := cold.Discharge
		switch {
		case now == nil:
			return usef("discharge: none was begun in this job: steadyrail discharge begin")
		case once || now.Phase == "held" || now.Phase == "ended":
			return sayDischarge(s, *now, asJSON)
		case now.Say != last && !asJSON:
			last = now.Say
			fmt.Fprintln(s.out, fitted(s.out, now.Say+advice(*now)))
		}
		select {
		case <-again.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func advice(d web.Discharge) string {
	if d.Advice == "" {
		return ""
	}
	return " (" + d.Advice + ")"
}

func sayDischarge(s streams, d web.Discharge, asJSON bool) error {
	if asJSON {
		if err := writeJSON(s.out, d); err != nil {
			return err
		}
	} else {
		fmt.Fprintln(s.out, fitted(s.out, d.Say))
		for _, step := range d.Steps {
			word := "missing"
			if step.Done {
				word = "done"
			}
			fmt.Fprintln(s.out, fitted(s.out, fmt.Sprintf("  %-7s  %s: %s", word, step.Name, step.Say)))
		}
		for _, line := range d.Remarks {
			fmt.Fprintln(s.out, fitted(s.out, line))
		}
	}
	if !d.Proven {
		return &exitError{code: exitJudgedBad}
	}
	return nil
}

func polarityCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use: "polarity CHANNEL forward|reverse", Short: "Say which way round a resistance is measured", Args: cobra.ExactArgs(2), ValidArgs: []string{capture.Forward, capture.Reverse},
		Long: `Say which way round a resistance is measured from now on, such as
  steadyrail polarity dmm/ohms reverse
A short reads the same both ways, a junction does not; verdicts on shorts then name both.`,
	}
	dir, id := workspaceFlag(c), jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActPolarity, Subject: args[0], Text: args[1]})
	}
	return c
}
