package live

import (
	"time"

	"steadyrail/capture"
)

// silentIntervals is how many poll intervals may pass without a good reading
// before a channel counts as silent on screens and in metrics. One lost answer
// and its dithered neighbours stay within it.
const silentIntervals = 5

// SilentAfter returns how old a reading of a channel may be, in bench time,
// before screens and metrics stop showing it as the present value: five
// intervals and at least two seconds, both stretched when a simulated bench
// runs faster than the wall, because links answer in wall time.
func (s Snapshot) SilentAfter(channel capture.ChannelID) time.Duration {
	limit := 2 * time.Second
	if c, ok := s.Channel(channel); ok {
		limit = max(limit, silentIntervals*c.Info.Every)
	}
	if s.Speed > 1 {
		limit = time.Duration(float64(limit) * s.Speed)
	}
	return limit
}

// Age returns how old a reading is in bench time; never negative.
func (s Snapshot) Age(l *Last) time.Duration { return max(0, s.Now.Sub(l.At)) }

// Present reports whether a reading has a value and is young enough to be shown
// as the present one. A nil reading is not.
func (s Snapshot) Present(l *Last) bool {
	return l != nil && l.Reading.HasValue() && s.Age(l) <= s.SilentAfter(l.Reading.Channel)
}

// Channel returns the view of a channel.
func (s Snapshot) Channel(id capture.ChannelID) (ChannelView, bool) {
	for _, c := range s.Channels {
		if c.Info.ID == id {
			return c, true
		}
	}
	return ChannelView{}, false
}

// Instrument returns the view of an instrument.
func (s Snapshot) Instrument(name string) (InstrumentView, bool) {
	for _, in := range s.Instruments {
		if in.Info.Name == name {
			return in, true
		}
	}
	return InstrumentView{}, false
}
