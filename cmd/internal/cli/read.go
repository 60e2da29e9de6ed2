package cli

import (
	"bufio"
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
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

// show prints a reading: value, what one count of the last digit is, how old,
// and what is special about it.
func (o *once) show(s streams, in drivers.Instrument, ch capture.ChannelInfo, r capture.Reading, answered time.Time) error {
	age := time.Since(answered) + in.Transfer(len(r.Text)+1) + ch.Lag + ch.Aperture/2
	if o.asJSON {
		return json.NewEncoder(under(s.out)).Encode(map[string]any{
			"identity": in.Info().Identity, "model": in.Info().Model, "channel": ch.ID.Input(), "quantity": r.Quantity,
			"value": r.Value, "text": r.Text, "resolution": r.Resolution, "flags": r.Flags, "age_seconds": age.Seconds(),
		})
	}
	unit := r.Quantity.Unit()
	var parts []string
	if r.HasValue() {
		parts = append(parts, unit.Text(r.Value, r.Resolution))
		if r.Resolution > 0 {
			parts = append(parts, "one digit "+unit.Text(r.Resolution, r.Resolution))
		}
	} else {
		parts = append(parts, "no value")
	}
	parts = append(parts, flagWords(r.Flags)...)
	parts = append(parts, fmt.Sprintf("%d ms old", age.Milliseconds()))
	fmt.Fprintln(s.out, strings.Join(parts, ", "))
	return nil
}

// flagWords says flags for people.
func flagWords(f capture.Flags) (out []string) {
	for _, w := range []struct {
		flag capture.Flags
		say  string
	}{
		{capture.OverRange, "above the range"}, {capture.UnderRange, "below the range"}, {capture.NotANumber, "the meter gave no number"},
		{capture.Held, "display on hold"}, {capture.LowBattery, "meter battery low"}, {capture.Limiting, "supply is limiting"},
	} {
		if f.Has(w.flag) {
			out = append(out, w.say)
		}
	}
	return out
}

// advice says what a person can do about a reading that did not come.
func (o *once) advice(err error) error {
	if err != nil {
		err = unnamed{err}
	}
	switch {
	case err == nil:
		return nil
	case errors.Is(err, drivers.ErrNoChannel):
		if _, dial, ok := strings.Cut(err.Error(), "the dial is at "); ok {
			return errors.New("the dial is at " + dial)
		}
		return err
	case errors.Is(err, wire.ErrTimeout), errors.Is(err, wire.ErrGarbled):
		return fmt.Errorf("%w; %s", err, o.doubts())
	case errors.Is(err, drivers.ErrRefused), errors.Is(err, drivers.ErrMalformed):
		return fmt.Errorf("%w; %s may not be its model: name another with --model", err, o.model)
	}
	return err
}

// doubts are the questions that a silent or an unreadable far end raises.
func (o *once) doubts() string {
	ask := []string{"is it switched on"}
	if a, err := wire.ParseAddress(o.link); err == nil && serial(a) {
		ask = append(ask, "is the rate right (?baud=19200 behind the link)")
	}
	if o.model != "" {
		ask = append(ask, "is "+o.model+" its model (--model)")
	} else {
		ask = append(ask, "does it want another model (--model)")
	}
	return strings.Join(ask, ", ") + "?"
}

// guess finds the model by what the port says: by itself, or to *IDN?.
func (o *once) guess(ctx context.Context, s streams, models drivers.Models) (string, error) {
	a, _ := wire.ParseAddress(o.link) // run has read it
	t := target{name: o.link, address: a, lines: []wire.Line{{}}}
	s.say("listening; then, if it is silent, sending %s and %s", asked, terminator(t.line(wire.Line{})))
	heard, answer, err := t.try(ctx, wire.Line{})
	switch {
	case answer != "":
		name := cmp.Or(models.Answering(answer), usual)
		s.say("it answers %s: read as a %s", answer, name)
		return name, nil
	case heard != "":
		s.say("it talks by itself: %s", heard)
		return o.listener(ctx, models, heard)
	case cannotOpen(err):
		return "", err
	}
	// A handheld may talk at a rate of its own.
	model, untried := o.listener(ctx, models, "")
	if untried == nil {
		return model, nil
	}
	if serial(a) {
		err = fmt.Errorf("at %s: %w", settings(t.line(wire.Line{})), err)
	}
	if !strings.Contains(err.Error(), a.Path) || a.Path == "" {
		err = fmt.Errorf("%s: %w", o.link, err)
	}
	err = o.advice(err)
	if errors.Is(untried, errUntried) {
		err = fmt.Errorf("%w Or %w", err, untried)
	}
	return "", err
}

// sentIn lists what a recording says was sent.
func sentIn(record string) string {
	f, err := os.Open(record)
	if err != nil {
		return "nothing"
	}
	defer f.Close()
	var out []string
	for sc := bufio.NewScanner(f); sc.Scan(); {
		_, row, _ := strings.Cut(sc.Text(), " ")
		switch mark, text, _ := strings.Cut(row, " "); {
		case mark == ">":
			out = append(out, text)
		case mark == "]" && text != "":
			if b, err := hex.DecodeString(strings.ReplaceAll(text, " ", "")); err == nil {
				out = append(out, fmt.Sprintf("% X", b))
			}
		}
	}
	if len(out) == 0 {
		return "nothing"
	}
	return strings.Join(out, " | ")
}
