package cli

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

func portsCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "ports",
		Short: "List the serial ports, without opening any",
		Args:  cobra.NoArgs,
	}
	asJSON := jsonFlag(c)
	c.RunE = func(*cobra.Command, []string) error {
		list, err := wire.Ports()
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, append([]wire.Port{}, list...))
		}
		if len(list) == 0 {
			s.say("no serial port found")
			return nil
		}
		w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
		for _, p := range list {
			fmt.Fprintln(w, portLine(p))
		}
		return w.Flush()
	}
	return c
}

// portLine says a port in columns: where it is, what it is, and the link to
// write into a configuration.
func portLine(p wire.Port) string {
	what := "not a USB port"
	if p.VID != "" {
		what = strings.TrimSpace(p.Product + " (" + p.VID + ":" + p.PID + ")")
	}
	return p.Name + "\t" + what + "\t" + p.Link
}

func readCommand(s streams) *cobra.Command {
	var model string
	c := &cobra.Command{
		Use:   "read LINK [CHANNEL]",
		Short: "Take one reading from a port, without a configuration",
		Long: `Take one reading from an instrument on a port, such as
  steadyrail read serial:/dev/ttyUSB0?baud=9600 volts --model scpi-multimeter
It sends *IDN? and the model's own phrases, never *RST.`,
		Args: cobra.RangeArgs(1, 2),
	}
	c.Flags().StringVar(&model, "model", "scpi-multimeter", "model of the instrument")
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		input := ""
		if len(args) == 2 {
			input = args[1]
		}
		ctx, cancel := context.WithTimeout(cmd.Context(), 15*time.Second)
		defer cancel()
		r, id, err := readOnce(ctx, args[0], model, input)
		if err != nil {
			return err
		}
		s.say("%s", id)
		if *asJSON {
			return writeJSON(s.out, map[string]any{"quantity": r.Quantity, "value": r.Value, "text": r.Text, "resolution": r.Resolution, "flags": r.Flags})
		}
		if !r.HasValue() {
			fmt.Fprintln(s.out, r.Flags)
			return nil
		}
		fmt.Fprintln(s.out, r.Quantity.Unit().Text(r.Value, r.Resolution))
		return nil
	}
	return c
}

// readOnce connects, takes one reading of an input (the first when none is
// named) and lets go.
func readOnce(ctx context.Context, link, model, input string) (capture.Reading, capture.Identity, error) {
	var none capture.Reading
	models, err := drivers.LoadModels("")
	if err != nil {
		return none, capture.Identity{}, err
	}
	in, err := drivers.Open(drivers.Config{Name: "meter", Model: model, Link: link, OnExit: "leave"}, models)
	if err != nil {
		return none, capture.Identity{}, use(err)
	}
	defer in.Close()
	var ch capture.ChannelID
	names := ""
	for _, c := range in.Info().Channels {
		if input == "" || c.ID.Input() == input {
			if ch == "" {
				ch = c.ID
			}
		}
		names += " " + c.ID.Input()
	}
	if ch == "" {
		return none, capture.Identity{}, usef("model %s has no input %s; it has:%s", model, input, names)
	}
	if err := in.Connect(ctx); err != nil {
		return none, capture.Identity{}, err
	}
	if err := in.Select(ctx, ch); err != nil {
		return none, capture.Identity{}, err
	}
	r, err := in.Measure(ctx, ch)
	return r, in.Info().Identity, err
}
