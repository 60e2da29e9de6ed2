package drivers

import (
	"context"
	"fmt"
	"slices"

	"steadyrail/capture"
)

// warmed is an instrument with transforms.
type warmed struct {
	Instrument
	latest Lookup
	added  map[capture.ChannelID]*added
	order  []capture.ChannelID
}

// Info lists the computed channels after those of the instrument.
func (w *warmed) Info() capture.InstrumentInfo {
	info := w.Instrument.Info()
	info.Channels = slices.Clone(info.Channels)
	for _, id := range w.order {
		info.Channels = append(info.Channels, w.added[id].info)
	}
	return info
}

// source is the instrument's own channel behind one of ours.
func (w *warmed) source(ch capture.ChannelID) capture.ChannelID {
	if a := w.added[ch]; a != nil {
		return a.of
	}
	return ch
}

// Select sets a shared input to what the channel is computed from.
func (w *warmed) Select(ctx context.Context, ch capture.ChannelID) error {
	return w.Instrument.Select(ctx, w.source(ch))
}

// Measure reads the instrument and computes.
func (w *warmed) Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error) {
	r, err := w.Instrument.Measure(ctx, w.source(ch))
	if a := w.added[ch]; a != nil && err == nil {
		r = w.convert(a, r)
	}
	return r, err
}

// FixRange holds the range of the instrument's own channels. That of a computed
// one would be in kelvin, which no meter can set.
func (w *warmed) FixRange(ctx context.Context, ch capture.ChannelID, atLeast float64) error {
	fixer, ok := w.Instrument.(capture.RangeFixer)
	if !ok || w.added[ch] != nil {
		return fmt.Errorf("%s: the range of this channel cannot be held", ch)
	}
	return fixer.FixRange(ctx, ch, atLeast)
}

// convert turns a reading at a sensor into a temperature. Flags are carried
// over; what has no value, or no cold junction to go by, gets none.
func (w *warmed) convert(a *added, r capture.Reading) capture.Reading {
	out := r
	out.Channel, out.Quantity = a.info.ID, capture.Temperature
	out.Value, out.Text, out.Resolution, out.Range = 0, "", 0, 0
	if !r.HasValue() {
		return out
	}
	cold, flags := w.cold(a)
	out.Flags |= flags
	if !out.HasValue() {
		return out
	}
	t := a.chain.Sensor.Celsius(r.Value, cold)
	if out.Flags |= t.Flags; !out.HasValue() {
		return out
	}
	out.Value = t.Celsius
	out.Resolution = r.Resolution * t.Slope
	out.Range = a.chain.Range(t.Celsius, r.Range)
	return out
}

// cold returns the temperature of the cold junction, and the flags of the
// temperature that hangs on it: NotANumber without it, what is doubtful about
// it otherwise.
func (w *warmed) cold(a *added) (float64, capture.Flags) {
	if !a.couples {
		return 0, 0
	}
	if a.how.Cold != nil {
		return *a.how.Cold, 0
	}
	if w.latest == nil {
		return 0, capture.NotANumber
	}
	r, age, ok := w.latest(a.how.ColdChannel)
	most := a.how.ColdAge
	if most == 0 {
		most = DefaultColdAge
	}
	if !ok || !r.HasValue() || r.Quantity != capture.Temperature || age > most || age < 0 {
		return 0, capture.NotANumber
	}
	return r.Value, r.Flags & capture.NoVerdict
}
