package trim

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// Limits of what is one touch (common practice).
const (
	touchLongest = 2 * time.Minute  // from steady to steady; longer is something else
	liftWithin   = 12 * time.Second // the blade comes out so soon
	liftShare    = 0.25             // of the touch, at most, comes back
	liftOfBand   = 25               // and no more than a 25th of half the band
	typedWithin  = time.Minute      // turns belong to a touch that is no older, or comes no later
	mostTouches  = 64
	upFrom       = 0.6             // of the nominal: below it the rail is off or fed from elsewhere
	startFor     = 5 * time.Second // a set takes so long to start: its logic is held in reset first, and draws less
)

// watch is one rail.
type watch struct {
	rail  capture.Rail
	on    capture.ChannelInfo
	place capture.Placement
	since capture.Instant

	track     tracker
	before    *stretch        // the steady stretch that a touch would start from
	upSince   capture.Instant // the rail came up; 0: it was up when it was first seen, or is not
	course    trend.Cells
	coursedBy int // readings that went into the course
	// foretold is the newest forecast of the course, and after how many readings
	// of it, in units of forecastEvery.
	foretold trend.Forecast
	fittedAt int
	// isSettled was found after so many readings, in the same units.
	isSettled bool
	settledAt int

	trace   []capture.Point2
	last    capture.Reading
	lastAt  capture.Instant
	touches []capture.Touch
	lifts   []float64
	turns   float64 // typed, of a touch that is still to come
	turned  capture.Instant
	trimmer float64 // declared volts a turn

	held           *kept // steady when something else than a screw changed last
	preset, fitted *kept
	marks          []kept
	touchedFitted  bool // it was touched under load before anything was steady
}

func newWatch(r capture.Rail) *watch {
	return &watch{rail: r, track: tracker{floor: r.HalfBand() / 100}, course: trend.NewCells()}
}

// disturb forgets what was steady: something else than a screw changed.
func (w *watch) disturb() {
	w.hold()
	w.track.forget()
	w.before = nil
	w.again()
}

// again begins to watch the warming anew: what was seen cannot be joined to what
// comes.
func (w *watch) again() {
	w.course.Reset()
	w.coursedBy, w.foretold, w.fittedAt = 0, trend.Forecast{}, 0
	w.isSettled, w.settledAt = false, 0
}

func (w *watch) placed(at capture.Instant, p capture.Placement, info capture.ChannelInfo) {
	w.on, w.place, w.since, w.lastAt, w.trace = info, p, at, 0, nil
	w.disturb()
}

// size is a voltage by magnitude.
func (w *watch) size(v float64) float64 { return w.rail.Sized(v).Value }

func (w *watch) up(v float64) bool { return w.size(v) >= float64(upFrom*math.Abs(w.rail.Nominal)) }

// read takes a reading of the channel on the rail.
func (w *watch) read(at capture.Instant, r capture.Reading) (settled bool) {
	w.draw(at, r)
	if !r.Good() || !w.up(r.Value) {
		w.disturb() // while what was read before is still the newest
		w.last, w.lastAt, w.upSince = r, at, 0
		return false
	}
	if w.lastAt != 0 && !w.up(w.last.Value) {
		w.upSince = at
	}
	w.last, w.lastAt = r, at
	w.track.floor = max(2*r.Resolution, w.rail.HalfBand()/100)
	w.course.Add(at, r.Value)
	w.coursedBy++
	switch e, s := w.track.add(at, w.size(r.Value)); e {
	case ended:
		w.before = &s
	case began:
		w.stepped(s)
		return true
	}
	return false
}

// What is drawn of a rail: so long back, and no more points than a screen has use
// for.
const (
	traceFor  = 30 * time.Second
	mostTrace = 300
)

// draw keeps the reading for the drawing, the older ones thinner where a meter is
// quick.
func (w *watch) draw(at capture.Instant, r capture.Reading) {
	for len(w.trace) > 0 && (len(w.trace) == mostTrace || at.Sub(w.trace[0].At) > traceFor) {
		w.trace = w.trace[1:]
	}
	if n := len(w.trace); n > 0 && at.Sub(w.trace[n-1].At) < traceFor/mostTrace {
		return
	}
	w.trace = append(w.trace, capture.Point2{At: at, Value: r.Value, Good: r.Good()})
}

// stepped takes a new steady stretch: after another one it may be a touch.
func (w *watch) stepped(now stretch) {
	was := w.before
	w.before = nil
	if was == nil || now.from.Sub(was.to) > touchLongest {
		return
	}
	t := capture.Touch{From: was.to, To: now.from, Before: was.mean, After: now.mean, Moved: now.mean - was.mean, U: w.stepU(*was, now)}
	if math.Abs(t.Moved) <= w.track.floor {
		return
	}
	w.again()
	if w.turns == 0 && w.upSince != 0 && now.from.Sub(w.upSince) < startFor {
		w.fitted = nil // the set was starting, and draws what it draws only now
		return
	}
	if w.lifted(t) {
		return
	}
	if w.turns != 0 && t.To.Sub(w.turned) <= typedWithin+touchLongest {
		t.Turns = w.turns
	}
	w.turns = 0
	w.touches = append(w.touches, t)
	if len(w.touches) > mostTouches {
		w.touches = w.touches[1:]
	}
}

// stepU is the standard uncertainty of a step: scatter and resolution of both
// ends. The meter's gain is common to them and cancels but for its part of the
// step itself, which is far below the doubt in the turns.
func (w *watch) stepU(a, b stretch) float64 {
	va := a.sd * a.sd / max(1, a.eff)
	vb := b.sd * b.sd / max(1, b.eff)
	q := w.last.Resolution
	return math.Sqrt(float64(va) + float64(vb) + float64(q*q)/6)
}

// lifted joins a small step soon after a touch to it: the blade that came out of
// the slot, or the hand that let go. Turns that were typed for it make it a touch.
func (w *watch) lifted(t capture.Touch) bool {
	n := len(w.touches)
	if n == 0 || w.turns != 0 {
		return false
	}
	prev := &w.touches[n-1]
	if t.From.Sub(prev.To) > liftWithin || math.Abs(t.Moved) > min(float64(liftShare*math.Abs(prev.Moved)), w.rail.HalfBand()/liftOfBand) {
		return false
	}
	prev.After, prev.Moved, prev.U = t.After, t.After-prev.Before, t.U
	w.lifts = append(w.lifts[max(0, len(w.lifts)-7):], t.Moved)
	return true
}

// turn takes typed turns: they belong to the touch that is under way or to come,
// or to the one just made when it has none.
func (w *watch) turn(at capture.Instant, turns float64) {
	n := len(w.touches)
	steady := w.track.steady
	if steady && n > 0 && w.touches[n-1].Turns == 0 && at.Sub(w.touches[n-1].To) <= typedWithin {
		w.touches[n-1].Turns = turns
		return
	}
	if w.turned == 0 || at.Sub(w.turned) > typedWithin {
		w.turns = 0
	}
	w.turns, w.turned = w.turns+turns, at
}

// blade is what comes back when the blade is lifted, on average.
func (w *watch) blade() float64 {
	sum := 0.0
	for _, l := range w.lifts {
		sum += l
	}
	if len(w.lifts) == 0 {
		return 0
	}
	return sum / float64(len(w.lifts))
}

func (w *watch) gain() *capture.TrimGain {
	if g := gain(w.touches); g != nil {
		return g
	}
	if w.trimmer != 0 {
		return &capture.TrimGain{PerTurn: w.trimmer, U: math.Abs(w.trimmer) * declaredDoubt, Declared: true}
	}
	return nil
}

// declaredDoubt is the standard uncertainty of a declared gain: tracks are made
// to ±20 % (usual for a trimmer), taken as rectangular.
const declaredDoubt = 0.2 / 1.7320508075688772

// statement says how well a steady mean is known.
func (w *watch) statement(s stretch) uncertainty.Statement {
	v := s.mean
	if w.rail.Nominal < 0 {
		v = -v
	}
	in := uncertainty.Of(w.last, w.on.Accuracy)
	in.Value, in.SD, in.Effective, in.Readings = v, s.sd, s.eff, s.n
	return uncertainty.State(in)
}
