package kind

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// band judges whether a rail lies within its bounds.
//
// The verdict is about the mean over a window (a second unless the rule says
// otherwise), with the expanded uncertainty as guard band: four outcomes after
// ILAC-G8:09/2019. The alarm is about single readings outside, and only when
// they persist for the rule's on-delay: judging 144,000 readings one by one
// finds hundreds outside by chance. It clears inside the bound by the deadband.
type band struct {
	base
	win  window
	side int // 1 above, -1 below, 0 inside, by magnitude
	edge float64
	was  float64
	fits capture.Outcome
	u    uncertainty.Statement
	own  bool // bounds of its own, about what is not the rail's voltage
}

// BandOnDelay is how long a rail must be out of its band before it is an
// alarm, unless the rule says otherwise.
const BandOnDelay = time.Second

func impliedBand(r capture.Rail) (capture.Rule, bool) {
	rule := impliedRule("band", r, capture.Warning)
	rule.OnDelay, rule.OffDelay, rule.Deadband = BandOnDelay, BandOnDelay, bandDeadband(r)
	return rule, r.Bounds.HasLow() || r.Bounds.HasHigh()
}

func newBand(c Case) Judge {
	b := &band{base: base{Case: c}}
	b.bounded()
	b.win.span = orDefault(c.Rule.Window, time.Second)
	return b
}

func (b *band) Sit(at capture.Instant, seat Seat) {
	b.base.Sit(at, seat)
	b.side = 0
	b.forget()
}

func (b *band) Blind(capture.Instant) { b.lastAt = 0; b.forget() }

func (b *band) forget() { b.win.reset(); b.fits = capture.NoData }

func (b *band) Read(at capture.Instant, r *capture.Reading) {
	if !b.keep(at, r) {
		return
	}
	if b.win.n > 0 && abs(r.Value-b.win.mean()) > float64(2*b.Rail.HalfBand()) {
		// A fall through the band is a new level, not scatter of the old: a mean
		// over both is where the rail never was, and its spread would make
		// "cannot tell" of a rail that is plainly gone.
		b.win.reset()
	}
	b.win.add(at, r.Value)
	b.again(&b.u, &sample{mean: b.win.mean(), variance: b.win.variance(), n: b.win.effective(), readings: b.win.n, like: r})
	b.fits, _ = uncertainty.Decide(b.u.Value, b.u.Expanded, b.Rail.Bounds)
	b.excurse(b.Rail.Sized(r.Value))
}

// excurse follows the single reading across the bounds. At an edge a reading
// is inside, as declared bounds are; it must come back past the deadband.
func (b *band) excurse(s capture.Sized) {
	back := min(b.Rule.Deadband, float64(0.4*2*b.Rail.HalfBand()))
	switch {
	case s.Value > s.Bounds.High:
		b.side, b.edge, b.was = 1, s.Bounds.High, b.last.Value
	case s.Value < s.Bounds.Low:
		b.side, b.edge, b.was = -1, s.Bounds.Low, b.last.Value
	case b.side > 0 && s.Value >= b.edge-back, b.side < 0 && s.Value <= b.edge+back:
	default:
		b.side = 0
	}
}

func (b *band) Condition() Condition {
	switch {
	case b.lastAt == 0:
		return Unknown
	case b.side > 0 || b.side < 0 && b.risen():
		return Present
	}
	return Absent
}

func (b *band) cold() bool {
	return !b.own && b.arming.Cold && math.Abs(b.share(b.last.Value)) < OffBelow
}

func (b *band) Outcome() capture.Outcome {
	if !b.known() || b.cold() {
		return capture.NoData
	}
	return b.fits
}

func (b *band) Verdict() capture.Verdict {
	if !b.known() {
		return b.blank("No reading")
	}
	v := b.blank("")
	v.Outcome, v.Value = b.Outcome(), b.win.mean()
	b.doubt(&v, b.u, b.Rail.Bounds)
	v.Unit, v.Resolution = b.unit().ASCII(), b.last.Resolution
	v.From, v.To, v.N = b.win.from(), b.lastAt, b.win.n
	if v.Say = b.judgement(); b.cold() {
		v.Say = "No voltage on it: " + b.volts(v.Value)
	}
	return v
}

func (b *band) Finding() Finding {
	f := b.finding(b.was)
	if b.side > 0 {
		f.Say = fmt.Sprintf("%s is high: %s, highest allowed %s", b.subject(), b.figure(b.was), b.edgeText(f.Limit))
		f.Advice = b.advice("switch the output off before the load suffers, then look at the feedback path")
		return f
	}
	f.Say = fmt.Sprintf("%s is low: %s, lowest allowed %s", b.subject(), b.figure(b.was), b.edgeText(f.Limit))
	f.Advice = b.advice("read the converter's input and its load current; trim only when both are right")
	return f
}

func (b *band) Recovery() Finding {
	f := b.finding(b.last.Value)
	f.Say = fmt.Sprintf("%s is inside again: %s", b.subject(), b.figure(b.last.Value))
	return f
}

func (b *band) finding(value float64) Finding {
	return Finding{Value: value, Limit: b.sign() * b.edge, Unit: b.unit().ASCII(), Evidence: []capture.Instant{b.lastAt}}
}
