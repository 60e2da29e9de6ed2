package job

import (
	"testing"
	"time"

	"steadyrail/capture"
)

const planText = `{"for": 7200, "cycles": 2, "on": 600, "off": 300, "output": "supply", "steps": [22, 26], "each": 900, "back": 24}`

// walk is a plan that is driven as the daemon does, on a clock of minutes.
type walk struct {
	t    *testing.T
	r    Regimen
	now  capture.Instant
	acts []string
}

func (w *walk) post(it capture.Item) {
	w.now = w.now.Add(time.Millisecond)
	w.r.Consume(capture.Record{At: w.now, Item: it})
}

func (w *walk) run(d time.Duration) {
	for end := w.now.Add(d); w.now < end; w.now = w.now.Add(10 * time.Second) {
		for range 3 {
			begin, over, _ := w.r.Due(w.now, false)
			if begin > 0 {
				s, _ := w.r.Step(begin)
				w.acts = append(w.acts, s.Kind)
				w.post(capture.Act{Verb: capture.ActSoakStep, Value: float64(begin), Text: capture.StepBegun, By: capture.ByPlan})
			}
			if over > 0 {
				w.post(capture.Act{Verb: capture.ActSoakStep, Value: float64(over), Text: capture.StepDone, By: capture.ByPlan})
			}
		}
	}
}

func newWalk(t *testing.T) *walk {
	w := &walk{t: t, now: capture.InstantOf(time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC))}
	w.post(capture.Act{Verb: capture.ActRegimen, Text: planText})
	return w
}

// TestAPlanIsWalkedInOrder: set-points, back, cycles, and the rest of the soak;
// the time under power is what was asked for, the off times on top.
func TestAPlanIsWalkedInOrder(t *testing.T) {
	w := newWalk(t)
	begun := w.now
	w.run(4 * time.Hour)
	s := w.r.State(w.now)
	want := []string{"input", "input", "input", "off", "on", "off", "on", "soak"}
	if len(w.acts) != len(want) {
		t.Fatalf("%q", w.acts)
	}
	for i := range want {
		if w.acts[i] != want[i] {
			t.Fatalf("%q", w.acts)
		}
	}
	if s.State != capture.PlanDone || s.Cycles != 2 || s.Watched < s.Needed || s.Watched > s.Needed+3*time.Minute {
		t.Errorf("%+v", s)
	}
	if took := w.r.ended.Sub(begun); took < 130*time.Minute || took > 134*time.Minute {
		t.Errorf("two hours under power and twice 5 min off took %s", took)
	}
	if len(s.Parts) != 1 {
		t.Errorf("in one piece: %+v", s.Parts)
	}
	if p := s.Parts[0]; p.Long() != s.Watched || s.Off < 10*time.Minute || s.Off > 11*time.Minute || p.Idle < s.Off {
		t.Errorf("%s counts, %s was watched, %s off", p.Long(), s.Watched, s.Off)
	}
}

// TestAPowerCutStopsNoMeasuringButAllSwitching: after the gap the step's time goes
// on, and nothing is switched until a person lets it.
func TestAPowerCutStopsNoMeasuringButAllSwitching(t *testing.T) {
	w := newWalk(t)
	w.run(20 * time.Minute) // in the second input step
	from := w.now
	w.now = w.now.Add(8 * time.Hour)
	w.post(capture.Gap{From: from, To: w.now, Reason: "not running"})
	before := len(w.acts)
	w.run(time.Hour)
	s := w.r.State(w.now)
	if s.State != capture.PlanWaits || len(w.acts) != before {
		t.Fatalf("switched %q in state %s", w.acts[before:], s.State)
	}
	if len(s.Parts) != 2 {
		t.Errorf("two pieces: %+v", s.Parts)
	}
	if sum := total(s.Parts); sum < s.Watched || s.Parts[0].Long()+s.Parts[1].Long() != s.Watched {
		t.Errorf("pieces of %s and %s, watched %s", s.Parts[0].Long(), s.Parts[1].Long(), s.Watched)
	}
	if s.Watched > 31*time.Minute || s.Watched < 29*time.Minute {
		t.Errorf("two steps of 15 min were watched, %s is said", s.Watched)
	}
	if _, _, waits := w.r.Due(w.now, false); !waits {
		t.Error("it does not say that it waits")
	}
	w.post(capture.Act{Verb: capture.ActSoakStep, Text: capture.StepGoesOn, By: "me"})
	w.run(3 * time.Hour)
	if s = w.r.State(w.now); s.State != capture.PlanDone || s.Watched < s.Needed {
		t.Errorf("%s, watched %s of %s", s.State, s.Watched, s.Needed)
	}
}

// TestAPlanThatEndsEarly: a stop, a closed job, another stage and a step that was
// stopped end it, with the reason.
func TestAPlanThatEndsEarly(t *testing.T) {
	for want, act := range map[string]capture.Act{
		"the soak was stopped":  {Verb: capture.ActSoak, Text: "stop"},
		"the job was closed":    {Verb: capture.ActClose},
		"the job went to trim":  {Verb: capture.ActStage, Stage: capture.Trim},
		"an alarm came: +5 low": {Verb: capture.ActSoakStep, Value: 2, Text: "stopped: an alarm came: +5 low"},
	} {
		w := newWalk(t)
		w.run(20 * time.Minute)
		w.post(act)
		if s := w.r.State(w.now.Add(time.Hour)); s.State != capture.PlanStopped || s.Why != want || s.Next != "" {
			t.Errorf("%q: %s %q", want, s.State, s.Why)
		}
		if begin, end, _ := w.r.Due(w.now.Add(time.Hour), true); begin != 0 || end != 0 {
			t.Errorf("%q: it goes on", want)
		}
	}
}

// TestWarmUpEndsWhenSettled: or at its most.
func TestWarmUpEndsWhenSettled(t *testing.T) {
	w := newWalk(t)
	w.post(capture.Act{Verb: capture.ActRegimen, Text: `{"for": 3600, "warm": 5400}`})
	w.run(time.Minute)
	if _, end, _ := w.r.Due(w.now, false); end != 0 {
		t.Error("not settled")
	}
	if _, end, _ := w.r.Due(w.now, true); end != 1 {
		t.Error("settled")
	}
	if _, end, _ := w.r.Due(w.now.Add(90*time.Minute), false); end != 1 {
		t.Error("90 min are its most")
	}
}

func TestPlansThatMakeNoSense(t *testing.T) {
	for _, text := range []string{
		``, `{}`, `{"for": -1}`, `{"for": 1e12}`, `{"for": 60, "cycles": 2, "on": 60, "off": 60}`, `{"for": 600, "cycles": 2, "output": "supply"}`,
		`{"for": 600, "steps": [9]}`, `{"for": 600, "steps": [9], "output": "supply"}`, `{"for": 600, "loads": [1], "each": 60}`,
		`{"for": 60, "cycles": 2, "on": 60, "off": 60, "output": "supply"}`, `{"for": 600, "steps": [-9], "each": 60, "output": "supply"}`, `{"for": 6e5, "cycles": 100000, "on": 1, "off": 1, "output": "supply"}`,
	} {
		if _, err := capture.ParseRegimen(text); err == nil {
			t.Errorf("%s is no plan", text)
		}
	}
}

// FuzzRegimen: a plan from anywhere is refused or walked to its end.
func FuzzRegimen(f *testing.F) {
	f.Add(planText)
	f.Add(`{"for": 3600, "warm": 1800, "loads": [0.1, 0.5], "load": "load", "each": 60}`)
	f.Fuzz(func(t *testing.T, text string) {
		plan, err := capture.ParseRegimen(text)
		if err != nil {
			return
		}
		again, err := capture.ParseRegimen(plan.Text())
		if err != nil || len(again.Course()) != len(plan.Course()) {
			t.Fatalf("%s: %v", plan.Text(), err)
		}
		var r Regimen
		r.Consume(capture.Record{At: 1, Item: capture.Act{Verb: capture.ActRegimen, Text: text}})
		now := capture.Instant(1)
		for range plan.Course() {
			begin, _, _ := r.Due(now, false)
			r.Consume(capture.Record{At: now, Item: capture.Act{Verb: capture.ActSoakStep, Value: float64(begin), Text: capture.StepBegun}})
			s, _ := r.Step(begin)
			now = now.Add(s.Long)
			_, end, _ := r.Due(now, false)
			r.Consume(capture.Record{At: now, Item: capture.Act{Verb: capture.ActSoakStep, Value: float64(end), Text: capture.StepDone}})
		}
		if s := r.State(now); len(s.Steps) > 0 && s.State != capture.PlanDone {
			t.Fatalf("%s ends %s", text, s.State)
		}
	})
}
