package kind

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// base is what all judges share: the case, the seat, the arming, the newest
// reading. It answers every call, so that a kind writes only what it needs.
type base struct {
	Case
	seat    Seat
	arming  Arming
	armedAt capture.Instant // 0: not armed
	last    capture.Reading // newest reading with a value
	lastAt  capture.Instant // 0: none since the seat was taken
	now     capture.Instant // newest reading or tick
	seen    bool            // in band since it is armed
	room    Room
	celsius *float64          // of room; never written through, for statements keep it
	given   uncertainty.Given // of the newest reading, when it was computed
	due     deadline
	bears   time.Duration // how long silence is borne on this seat
}

func (b *base) Sit(at capture.Instant, seat Seat) {
	b.seat, b.lastAt, b.now, b.seen = seat, 0, at, false
	b.due, b.given = overdueSince(seat.Due), uncertainty.Given{}
	b.bears = borne(&seat.Channel, SilentIntervals, SilentLeast)
}

func (b *base) Arm(at capture.Instant, a Arming) {
	switch {
	case a.Armed && !b.arming.Armed:
		b.armedAt, b.now, b.seen = at, at, false
	case !a.Armed:
		b.armedAt = 0
	}
	b.arming = a
}

func (b *base) Beside(capture.Instant, *capture.Reading) {}
func (b *base) Act(capture.Instant, *capture.Act)        {}
func (b *base) Given(g uncertainty.Given)                { b.given = g }
func (b *base) Tick(at capture.Instant)                  { b.now = at }
func (b *base) Blind(capture.Instant)                    {}
func (b *base) Story() string                            { return "" }

func (b *base) Room(r Room) {
	if b.celsius == nil || b.room.Celsius != r.Celsius {
		celsius := r.Celsius
		b.celsius = &celsius
	}
	b.room = r
}

// ambient is what the room had at the newest reading, nil when nobody told
// lately.
func (b *base) ambient() *float64 {
	if !b.room.holds(b.lastAt) {
		return nil
	}
	return b.celsius
}

// keep remembers a reading that may be judged, and reports whether it may.
func (b *base) keep(at capture.Instant, r *capture.Reading) bool {
	if !r.Good() || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return false
	}
	b.last, b.lastAt, b.now = *r, at, at
	b.seen = b.seen || b.arming.Armed && b.Rail.Bounds.Contains(r.Value)
	return true
}

// known reports whether there is a reading that still says how things are. One
// that is older than silence is borne says how they were: no answer is never a
// pass. What a person typed is no running series and does not fall silent.
func (b *base) known() bool {
	if b.lastAt == 0 {
		return false
	}
	return b.last.Flags.Has(capture.Typed|capture.ByEye) || b.now.Sub(b.lastAt) < b.bears
}

// borne is how long a channel may be silent: so many of its intervals, but not
// less than a least.
func borne(ch *capture.ChannelInfo, intervals int, least time.Duration) time.Duration {
	return max(time.Duration(intervals)*ch.Every, least)
}

// risen reports whether the rail was up since it is watched, or has had its
// time to rise.
func (b *base) risen() bool { return b.seen || b.now.Sub(b.armedAt) >= RiseGrace }

// state says how far what was heard may be off, in this room.
func (b *base) state(s sample) uncertainty.Statement {
	s.room, s.given = b.ambient(), b.given
	return state(&b.seat.Channel, s)
}

// again makes a statement that of the next reading of a series, in place and
// without memory.
func (b *base) again(u *uncertainty.Statement, s *sample) {
	s.room, s.given = b.ambient(), b.given
	in := s.input(&b.seat.Channel)
	u.Again(&in)
}

// doubt fills in what goes with an uncertainty.
func (b *base) doubt(v *capture.Verdict, s uncertainty.Statement, bounds capture.Bounds) {
	v.Uncertainty, v.Indicated, v.Note = s.Expanded, !s.Stated, note(s, bounds)
	v.Overdue = b.due.passed(b.lastAt)
	if v.Outcome != capture.NoData {
		v.Probability = s.Probability(bounds)
	}
}

// seated reports whether a channel stands on the rail.
func (b *base) seated() bool { return b.seat.Channel.ID != "" }

// blank is the verdict before anything is known.
func (b *base) blank(say string) capture.Verdict {
	return capture.Verdict{
		Rule: b.Rule.Name, Kind: b.Rule.Kind, Rail: b.Rail.Name,
		Channel: b.seat.Channel.ID, Say: say,
	}
}

// unwatched is why a rule about time says nothing.
func (b *base) unwatched() string {
	switch {
	case !b.seated():
		return "No reading"
	case b.arming.Why != "":
		return "Not watched: " + b.arming.Why
	}
	return "Not watched yet"
}

// volts prints a voltage with the digits of the newest reading.
func (b *base) volts(v float64) string { return capture.Volt.Text(v, b.last.Resolution) }

// declared prints a limit: the digits of a meter that has just ranged down say
// nothing about it.
func (b *base) declared(v float64) string {
	return capture.Volt.Text(v, b.Rail.DistanceResolution(b.last.Resolution))
}

// sign is -1 on a negative rail, 1 otherwise.
func (b *base) sign() float64 {
	if b.Rail.Nominal < 0 {
		return -1
	}
	return 1
}

// share is the magnitude of v as a part of the nominal's.
func (b *base) share(v float64) float64 {
	return b.Rail.Sized(v).Value / math.Abs(b.Rail.Nominal)
}
