package kind

import (
	"fmt"

	"steadyrail/capture"
)

// order judges whether the rail came up after the one that the rule names in
// against. When a rail came up is known within a stretch: after the last reading
// below its band, before the first one in it, each widened by what is not known
// of its instant. The order is told only where the two stretches lie apart: with
// readings every 200 ms the 1 to 50 ms that boards ask for cannot be judged.
type order struct {
	base
	own, other rise
}

// rise is what is known of when a rail came up.
type rise struct {
	low      capture.Instant // earliest that the newest reading out of band can have seen it; 0: there was none
	from, to capture.Instant // the stretch; to 0: it has not come up
	channel  capture.ChannelID
}

func newOrder(c Case) Judge { return &order{base: base{Case: c}} }

// take takes a reading of the rail: when it saw the rail, and whether in band.
func (r *rise) take(at capture.Instant, v *capture.Reading, up bool, armed capture.Instant) {
	if r.to != 0 {
		return
	}
	seen := v.Sampled(at)
	if !up {
		r.low, r.channel = seen.Add(-v.HalfWidth), v.Channel
		return
	}
	// What another contact saw low says nothing about when this one rose.
	if r.from = r.low; r.channel != v.Channel || r.low == 0 {
		r.from = armed
	}
	r.to = seen.Add(v.HalfWidth)
}

func (o *order) Sit(at capture.Instant, seat Seat) { o.base.Sit(at, seat); o.own = rise{} }
func (o *order) Blind(capture.Instant)             { o.lastAt = 0; o.own, o.other = rise{}, rise{} }

func (o *order) Arm(at capture.Instant, a Arming) {
	if a.Armed && !o.arming.Armed {
		o.own, o.other = rise{}, rise{}
	}
	o.base.Arm(at, a)
}

func (o *order) Read(at capture.Instant, r *capture.Reading) {
	if o.keep(at, r) && o.arming.Armed {
		o.own.take(at, r, o.Rail.Bounds.Contains(r.Value), o.armedAt)
	}
}

// Beside takes readings of the other rail; its bounds stand in the case.
func (o *order) Beside(at capture.Instant, r *capture.Reading) {
	if o.arming.Armed && r.Good() && at > o.armedAt && r.Channel != o.seat.Channel.ID {
		o.other.take(at, r, o.Other.Bounds.Contains(r.Value), o.armedAt)
	}
}

// said is the order as far as it is known.
func (o *order) said() capture.Outcome {
	switch own, other := o.own, o.other; {
	case own.to == 0 && other.to == 0:
		return capture.NoData
	case own.to == 0: // the other is up, this one will come after it
		return capture.NoData
	case other.to == 0 && other.low > own.to, other.to != 0 && other.from > own.to:
		return capture.Fail
	case other.to == 0:
		return capture.NoData
	case own.from > other.to:
		return capture.Pass
	}
	return capture.ConditionalFail
}

func (o *order) Outcome() capture.Outcome { return o.said() }

func (o *order) Condition() Condition {
	switch o.said() {
	case capture.Fail:
		return Present
	case capture.Pass, capture.ConditionalFail:
		return Absent
	}
	return Unknown
}

func (o *order) Verdict() capture.Verdict {
	v := o.blank("")
	v.Outcome, v.From, v.To = o.Outcome(), o.armedAt, o.now
	switch v.Outcome {
	case capture.Pass:
		v.Say = fmt.Sprintf("Up after %s, at least %s s", o.Rule.Against, floor(o.own.from.Sub(o.other.to)))
	case capture.Fail:
		v.Say = "Up before " + o.Rule.Against
		if o.other.to != 0 {
			v.Say += ", at least " + floor(o.other.from.Sub(o.own.to)) + " s"
		}
	case capture.ConditionalFail:
		v.Say = fmt.Sprintf("Cannot tell: both came up within %s s", seconds(max(o.own.to, o.other.to).Sub(min(o.own.from, o.other.from))))
	default:
		v.Say = o.waiting()
	}
	return v
}

func (o *order) waiting() string {
	switch {
	case !o.arming.Armed:
		return o.unwatched()
	case o.own.to == 0:
		return "Not up yet"
	}
	return "Up; " + o.Rule.Against + " is not yet, or nothing reads it"
}

func (o *order) Finding() Finding {
	late := max(o.other.from, o.other.low)
	f := Finding{
		Say:      fmt.Sprintf("%s came up before %s", o.Rail.Name, o.Rule.Against),
		Advice:   "look at what holds " + o.Rule.Against + " back, and at the enable of " + o.Rail.Name,
		Evidence: []capture.Instant{o.own.from, o.own.to, late},
	}
	f.Value, f.Unit = late.Sub(o.own.to).Seconds(), "s"
	return f
}

func (o *order) Recovery() Finding {
	return Finding{Say: o.Rail.Name + " is judged anew against " + o.Rule.Against, Unit: "s", Evidence: []capture.Instant{o.now}}
}
