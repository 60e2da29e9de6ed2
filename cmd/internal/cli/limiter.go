package cli

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/rules/standin"
)

// limiterFlags explains the flags of limiter, which are the keys of the API with
// dashes.
var limiterFlags = map[string]string{
	"source":      "what feeds it: '325 V'",
	"power":       "what the set draws, the same at any voltage: '18 W'",
	"ohms":        "a resistor in series: '120 ohm'",
	"lamp":        "or a lamp, by its rating: '230 V 60 W'",
	"start_power": "what the set draws while it starts; as --power when left out",
	"lowest":      "below which volts the set stops: '90 V'",
}

func limiterCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:                   "limiter --source VOLTS --power WATTS (--ohms OHMS | --lamp RATING)",
		DisableFlagsInUseLine: true,
		Short:                 "Say whether a set can start through a lamp or a resistor in series",
		Long: `Say whether a set can start through a lamp or a resistor in series, before a
live check through it. A switched supply draws the same power at any voltage:
with more than Vs²/(4·Pin) in series it has no operating point, and a healthy one
restarts for ever. Then a restart proves nothing: "cannot tell with this limiter".
  steadyrail limiter --source 325V --power 18W --ohms 120ohm
  steadyrail limiter --source 230V --power 18W --lamp '230V 60W' --lowest 90V

It ends with 1 when nothing can be told with this limiter.`,
		Args: cobra.NoArgs,
	}
	asJSON := jsonFlag(c)
	texts := map[string]*string{}
	for _, key := range capture.LimiterKeys {
		texts[key] = c.Flags().String(strings.ReplaceAll(key, "_", "-"), "", limiterFlags[key])
	}
	c.RunE = func(*cobra.Command, []string) error {
		q, err := capture.ParseLimiterQuestion(func(key string) string { return *texts[key] })
		if err != nil {
			return usef("--%s", strings.ReplaceAll(err.Error(), "_", "-"))
		}
		l, err := app.Limited(q)
		if err != nil {
			return usef("limiter: %w (see: steadyrail limiter --help)", err)
		}
		if *asJSON {
			err = writeJSON(s.out, l)
		} else {
			fmt.Fprintln(s.out, fitted(s.out, l.Say))
			w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
			for _, row := range l.Rows {
				fmt.Fprintf(w, "  %s\t%s\n", row[0], row[1])
			}
			err = w.Flush()
			for _, line := range l.Cautions {
				s.say("%s", line)
			}
		}
		if err == nil && l.Word != string(standin.Fits) {
			return &exitError{code: exitJudgedBad}
		}
		return err
	}
	return c
}
