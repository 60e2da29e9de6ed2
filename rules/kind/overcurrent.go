package kind

import (
	"fmt"

	"steadyrail/capture"
)

// overcurrent judges the magnitude of a current against a limit that a person
// wrote: no rail tells what its load draws. It listens to an ammeter in the
// rail or to the supply's own read-back. A current that only peaks is left to
// the rule's on-delay. The verdict keeps the meter's uncertainty as guard band,
// as a band's does; the alarm is about the reading itself.
type overcurrent struct {
	base
	under
	over bool
}

func newOvercurrent(c Case) Judge { return &overcurrent{base: base{Case: c}} }

func (o *overcurrent) limit() float64 { return abs(o.Rule.Limit) }

// back is the current below which it is over no more: lower by the deadband, or
// by a fiftieth where the rule has none.
func (o *overcurrent) back() float64 {
	if o.Rule.Deadband > 0 {
		return o.limit() - o.Rule.Deadband
	}
	return float64(0.98 * o.limit())
}

func (o *overcurrent) Sit(at capture.Instant, seat Seat) { o.base.Sit(at, seat); o.over = false }
func (o *overcurrent) Blind(capture.Instant)             { o.lastAt = 0 }

func (o *overcurrent) Read(at capture.Instant, r *capture.Reading) {
	if !o.keep(at, r) {
		return
	}
	v := abs(r.Value)
	o.decide(&o.base, v, o.limit())
	o.over = v > o.limit() || o.over && v > o.back()
}

func (o *overcurrent) Condition() Condition {
	switch {
	case !o.known():
		return Unknown
	case o.over:
		return Present
	}
	return Absent
}

func (o *overcurrent) Outcome() capture.Outcome {
	if !o.known() {
		return capture.NoData
	}
	return o.fits
}

func (o *overcurrent) Verdict() capture.Verdict {
	if !o.known() {
		return o.blank("No reading")
	}
	v := o.blank(o.figure(o.last.Value))
	v.Outcome, v.Value, v.Unit, v.Resolution = o.Outcome(), o.last.Value, o.unit().ASCII(), o.last.Resolution
	v.From, v.To, v.N = o.lastAt, o.lastAt, 1
	o.doubt(&v, o.u, atMost(o.limit()))
	return v
}

func (o *overcurrent) Finding() Finding {
	f := o.finding()
	f.Say = fmt.Sprintf("%s draws too much: %s, limit %s", o.subject(), o.figure(o.last.Value), o.figure(o.limit()))
	f.Advice = "switch the output off; lift loads one by one to find which draws it, and feel for what is warm"
	return f
}

func (o *overcurrent) Recovery() Finding {
	f := o.finding()
	f.Say = fmt.Sprintf("%s draws less again: %s", o.subject(), o.figure(o.last.Value))
	return f
}

func (o *overcurrent) finding() Finding {
	return Finding{Value: o.last.Value, Limit: o.limit(), Unit: o.unit().ASCII(), Evidence: []capture.Instant{o.lastAt}}
}
