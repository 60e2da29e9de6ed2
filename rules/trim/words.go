package trim

import (
	"fmt"
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// The states of a rail being trimmed.
const (
	Low        = "low"
	High       = "high"
	Inside     = "inside"
	CannotTell = "cannot tell"
	NotUp      = "not up"
	NoReading  = "no reading"
)

// state is what is said of the rail at an instant.
func (w *watch) state(now capture.Instant) capture.Trimming {
	t := capture.Trimming{Rail: w.rail.Name, Target: w.rail.Target, State: NoReading, Notes: []string{}, Findings: []string{}}
	t.Touches, t.Gain, t.Blade = len(w.touches), w.gain(), w.blade()
	t.Slack = slack(w.touches, t.Gain)
	if n := len(w.touches); n > 0 {
		last := w.touches[n-1]
		t.Touch = &last
	}
	t.Findings = append(t.Findings, w.findings()...)
	t.Preset, t.Fitted = w.preset.told(), w.fitted.told()
	t.Trace = slices.Clone(w.trace)
	w.measured(&t, now)
	w.order(&t)
	t.Tone = toneOf(t.State, t.Deviation)
	return t
}

// measured fills in the value and how it lies.
func (w *watch) measured(t *capture.Trimming, now capture.Instant) {
	if w.lastAt == 0 || !w.last.HasValue() || now.Sub(w.lastAt) > max(staleAfter, 3*w.on.Every) {
		return
	}
	s, steady := w.track.now()
	t.At, t.Value, t.Resolution, t.Steady = w.lastAt, w.last.Value, w.last.Resolution, steady
	u := uncertainty.State(uncertainty.Of(w.last, w.on.Accuracy))
	if steady {
		u = w.statement(s)
		t.Value = u.Value
	}
	sized := w.rail.Sized(t.Value)
	t.Off, t.Uncertainty = sized.Value-sized.Target, u.Expanded
	t.Deviation = deviation(sized)
	d := uncertainty.JudgeRail(w.rail, u)
	switch {
	case !w.last.Good():
		t.State = CannotTell
	case !w.up(t.Value):
		t.State = NotUp
	case d.Outcome == capture.Pass:
		t.State = Inside
	case d.Outcome != capture.Fail:
		t.State = CannotTell
	case t.Off < 0:
		t.State = Low
	default:
		t.State = High
	}
	t.Course = w.coursed()
}

func deviation(s capture.Sized) float64 {
	half := s.Bounds.High - s.Target
	if s.Value < s.Target {
		half = s.Target - s.Bounds.Low
	}
	if !(half > 0) || math.IsInf(half, 0) {
		half = math.Abs(s.Target) / 10
	}
	return (s.Value - s.Target) / half
}

// order says which way, how far, and what to do about it.
func (w *watch) order(t *capture.Trimming) {
	switch t.State {
	case NoReading:
		t.Say, t.Next = "No reading", "put a probe on "+w.rail.Name
		t.Spoken = "No reading."
		return
	case NotUp:
		t.Say, t.Next = "Not up: "+w.volts(t.Value), "find out why first: turn nothing"
		t.Spoken = "Not up."
		return
	}
	way, turn := "high", "down"
	if t.Off < 0 {
		way, turn = "low", "up"
	}
	near := math.Abs(t.Off) <= w.worth()
	switch {
	case near && t.State == Inside:
		t.Say, t.Next = "On target", "leave it"
	case t.State == Inside:
		t.Say = fmt.Sprintf("Inside, %s %s: %s", w.distance(t.Off), way, turn)
	case t.State == CannotTell:
		t.Say = fmt.Sprintf("%s %s, nearer to the edge than the meter can tell: %s", w.distance(t.Off), way, turn)
	default:
		t.Say = fmt.Sprintf("%s %s: %s", w.distance(t.Off), way, turn)
	}
	t.Spoken = spoken(t, w.distance(t.Off), way, turn)
	if !(near && t.State == Inside) {
		t.Next = w.next(t, turn)
	}
	w.notice(t)
}

// next is what to do with the screw. Without typed turns or a declared trimmer
// a touch is all that is known, and no turn is promised.
func (w *watch) next(t *capture.Trimming, turn string) string {
	switch {
	case !t.Steady:
		return "moving: lift the blade and wait"
	case t.Gain != nil && t.Gain.PerTurn <= 0:
		return "the screw works the other way round: " + opposite(turn) + " by your hand is " + turn + " for the rail"
	case t.Gain != nil && float64(2*t.Gain.U) > t.Gain.PerTurn:
		return fmt.Sprintf("a turn is worth %s, give or take %s: too little is known; a small touch %s, then lift the blade",
			w.distance(t.Gain.PerTurn), w.distance(2*t.Gain.U), turn)
	case t.Gain != nil:
		return w.byTurns(t, turn)
	case t.Touch != nil:
		return w.byTouch(t, turn)
	}
	return "a small touch " + turn + ", then lift the blade: what it moves will be learned"
}

func (w *watch) byTurns(t *capture.Trimming, turn string) string {
	turns := math.Abs(t.Off) / t.Gain.PerTurn
	back := t.Touch != nil && (t.Touch.Moved > 0) != (t.Off < 0)
	if back {
		turns += t.Slack
	}
	of := "about"
	if t.Gain.Declared {
		of = "by its data"
	}
	say := fmt.Sprintf("%s %s a turn: %s %s, then lift the blade", of, w.distance(t.Gain.PerTurn), fraction(turns), turn)
	if back && t.Slack > 0 {
		say += " (its slack is in that)"
	}
	return say
}

// byTouch holds the way to go against the last touch.
func (w *watch) byTouch(t *capture.Trimming, turn string) string {
	moved, ratio := math.Abs(t.Touch.Moved), math.Abs(t.Off/t.Touch.Moved)
	much := "about as much"
	switch {
	case ratio < 0.2:
		much = "far less"
	case ratio < 0.4:
		much = "a third of that"
	case ratio < 0.75:
		much = "half of that"
	case ratio > 1.4:
		much = "about " + capture.Figure(ratio, digits(ratio/4)) + " times that"
	}
	return fmt.Sprintf("your last touch moved %s: %s %s, then lift the blade", w.distance(moved), much, turn)
}

// notice lists what the touches showed besides.
func (w *watch) notice(t *capture.Trimming) {
	if t.Slack > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("The screw has slack: about %s is lost when it turns back. Come to the target from one side.", fraction(t.Slack)))
	}
	if t.Blade != 0 {
		way := "up"
		if t.Blade < 0 {
			way = "down"
		}
		t.Notes = append(t.Notes, fmt.Sprintf("With the blade lifted it goes %s %s: only then it counts.", w.distance(t.Blade), way))
	}
	if t.Gain != nil && !t.Gain.Declared {
		t.Notes = append(t.Notes, fmt.Sprintf("A turn is worth %s, give or take %s (95 %%), from %s.", w.distance(t.Gain.PerTurn), w.distance(2*t.Gain.U), counted(t.Gain.Touches, "touch", "touches")))
	}
	if t.Gain == nil && t.Touches > 0 {
		t.Notes = append(t.Notes, "What a turn is worth is not known: nobody typed how far the screw went.")
	}
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func opposite(turn string) string {
	if turn == "up" {
		return "down"
	}
	return "up"
}
