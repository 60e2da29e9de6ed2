package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

// usual is the model taken for whatever answers to *IDN? without saying what it is.
const usual = "scpi-multimeter"

// once is one use of `read`.
type once struct {
	link, model, channel, models string
	count                        int
	asJSON                       bool
}

func readCommand(s streams) *cobra.Command {
	var o once
	c := &cobra.Command{
		Use:   "read LINK",
		Short: "Take one reading from a port, without a configuration",
		Long: `Take one reading from an instrument on a port, such as
  steadyrail read serial:/dev/ttyUSB0?baud=9600
  steadyrail read tcp:192.168.1.20:5025 --model scpi-supply --channel amperes
Without --model it listens first: what talks by itself is read with the models for that, and
nothing is sent; else it sends *IDN?, and what answers is read as the model whose word is in
its name, else as a ` + usual + `.
Then the model's phrases follow: those that set the meter up and choose the function, which may
change its range and its input resistance, and those that read. Never *RST. What was sent
stands on stderr. It ends with 0 when there is a reading, 2 for wrong
use, 3 when the port or the instrument failed.`,
		Args: cobra.ExactArgs(1),
	}
	f := c.Flags()
	f.StringVar(&o.model, "model", "", "model of the instrument; empty: by what answers")
	f.StringVar(&o.channel, "channel", "", "volts, ohms, ...; empty: the model's first")
	f.StringVar(&o.models, "models", "", "folder with model files of your own")
	f.IntVar(&o.count, "count", 1, "how many readings")
	f.BoolVar(&o.asJSON, "json", false, "write each reading as a line of JSON, for scripts")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		o.link = plainPath(args[0])
		if o.count < 1 {
			return usef("--count %d: take at least one", o.count)
		}
		return o.run(cmd.Context(), s)
	}
	return c
}

// patient is how long connecting and one reading may take, each.
const patient = 15 * time.Second

func (o *once) run(ctx context.Context, s streams) error {
	models, err := drivers.LoadModels(o.models)
	if err != nil {
		return use(err)
	}
	if _, err := wire.ParseAddress(o.link); err != nil {
		return use(err)
	}
	if o.model == "" {
		if o.model, err = o.guess(ctx, s, models); err != nil {
			return err
		}
	}
	dir, err := os.MkdirTemp("", "steadyrail-read-")
	if err != nil {
		return fmt.Errorf("keep what is sent: %w", err)
	}
	defer os.RemoveAll(dir)
	record := filepath.Join(dir, "wire.txt")
	in, ch, err := o.open(s, models, o.model, record)
	if err != nil {
		return err
	}
	err = o.take(ctx, s, in, ch)
	err = errors.Join(err, in.Close())
	s.say("sent: %s", sentIn(record))
	return o.advice(err)
}

// open makes the instrument and picks its channel. What its port does not do of
// the model's wishes will be said.
func (o *once) open(s streams, models drivers.Models, model, record string) (drivers.Instrument, capture.ChannelInfo, error) {
	links := &drivers.Links{Unset: s.unset}
	in, err := links.Open(drivers.Config{Name: "meter", Model: model, Link: o.link, OnExit: onExit(models[model]), Record: record}, models)
	if err != nil {
		return nil, capture.ChannelInfo{}, use(unnamed{err})
	}
	var names []string
	for _, c := range in.Info().Channels {
		if o.channel == "" || c.ID.Input() == o.channel {
			return in, c, nil
		}
		names = append(names, c.ID.Input())
	}
	return nil, capture.ChannelInfo{}, usef("model %s has no channel %s; it has: %s", model, o.channel, strings.Join(names, " "))
}

// onExit is what a supply's or a load's model wants to be told; nothing is
// switched here.
func onExit(m drivers.Model) string {
	if slices.Contains(m.Acts(), "output") || slices.Contains(m.Acts(), "input") {
		return drivers.ExitLeave
	}
	return ""
}

// take connects, says who is there, and prints the readings.
func (o *once) take(ctx context.Context, s streams, in drivers.Instrument, ch capture.ChannelInfo) error {
	if err := within(ctx, in.Connect); err != nil {
		return err
	}
	if err := within(ctx, func(ctx context.Context) error { return in.Select(ctx, ch.ID) }); err != nil {
		return err
	}
	s.say("%s: %s", in.Info().Title, who(in.Info().Identity))
	if ch.Settle > 0 {
		select {
		case <-time.After(ch.Settle): // what it says before that does not count
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	for i := range o.count {
		if i > 0 && !ch.Streams {
			select {
			case <-time.After(ch.Every):
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		r, err := measure(ctx, in, ch.ID)
		if i == 0 && errors.Is(err, wire.ErrTimeout) {
			// The first answer of a function may come late: relays, and a range to
			// be found. A second look costs less than a wrong word about the meter.
			r, err = measure(ctx, in, ch.ID)
		}
		if err != nil {
			return err
		}
		answered := time.Now()
		if err := o.show(s, in, ch, r, answered); err != nil {
			return err
		}
	}
	return nil
}

func measure(ctx context.Context, in drivers.Instrument, id capture.ChannelID) (r capture.Reading, err error) {
	err = within(ctx, func(ctx context.Context) (err error) {
		r, err = in.Measure(ctx, id)
		return err
	})
	return r, err
}

func within(ctx context.Context, f func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(ctx, patient)
	defer cancel()
	return f(ctx)
}

// who says an identity, and by what it is known when it is not its own word.
func who(id capture.Identity) string {
	switch {
	case id.Source == "path" && id.Maker == "", id == (capture.Identity{Source: id.Source}):
		return "does not say who it is"
	case id.Source == "adapter":
		return id.String() + " (its adapter's)"
	}
	return id.String()
}
