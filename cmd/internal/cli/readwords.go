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
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

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
