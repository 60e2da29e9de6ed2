package capture

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// The acts of a soak that goes by a plan.
const (
	// ActRegimen lays a plan down and begins it. Text is the JSON of [Regimen].
	ActRegimen Verb = "soak plan"
	// ActSoakStep says what became of a step of it. Value is its number from 1, Text
	// one of the Step words, with a reason behind a colon.
	ActSoakStep Verb = "soak step"
)

// ByPlan is who does what a plan of a soak does: [Act.By] of its acts.
const ByPlan = "soak plan"

// What becomes of a step.
const (
	StepBegun   = "begun"
	StepDone    = "done"
	StepStopped = "stopped" // the plan ends here, with its reason
	StepGoesOn  = "goes on" // a person let it switch again after a restart
)

// QuietStep begins the verdict of a step in which no alarm came; what follows a
// semicolon are the levels of the rails.
const QuietStep = "no alarm in it"

// Regimen is a plan that a soak goes by. Lengths are in seconds. What is 0 or
// empty is left out of it.
type Regimen struct {
	For    float64   `json:"for"`              // under power in all, cycles and steps included
	Warm   float64   `json:"warm,omitempty"`   // warm-up, until settled or so long at most
	Cycles int       `json:"cycles,omitempty"` // off and on again
	On     float64   `json:"on,omitempty"`     // of a cycle
	Off    float64   `json:"off,omitempty"`
	Output string    `json:"output,omitempty"` // supply output that cycles and steps work on
	Steps  []float64 `json:"steps,omitempty"`  // volts of that output, one after the other
	Load   string    `json:"load,omitempty"`   // electronic load
	Loads  []float64 `json:"loads,omitempty"`  // amperes of it
	Each   float64   `json:"each,omitempty"`   // length of a set-point or load step
	Back   float64   `json:"back,omitempty"`   // volts that the output goes back to after the steps
}

// RegimenStep is one step of a plan.
type RegimenStep struct {
	Kind string        `json:"kind"` // warm-up, input, load, off, on, soak
	Long time.Duration `json:"long"` // 0: done at once
	At   float64       `json:"at"`   // volts of an input step, amperes of a load step
	Say  string        `json:"say"`
}

// The kinds of steps.
const (
	StepWarm  = "warm-up"
	StepInput = "input"
	StepLoad  = "load"
	StepOff   = "off"
	StepOn    = "on"
	StepSoak  = "soak"
)

// Powered reports whether the set is under power in a step.
func (s RegimenStep) Powered() bool { return s.Kind != StepOff }

// Switches reports whether something is switched or set to begin the step.
func (s RegimenStep) Switches() bool { return s.Kind != StepWarm && s.Kind != StepSoak }

// mostSteps bounds a plan.
const mostSteps = 2000

// Check reports the first thing that makes no sense.
func (r Regimen) Check() error {
	const longest = 366 * 24 * 3600.0
	for _, l := range []struct {
		what string
		v    float64
	}{{"length", r.For}, {"warm-up", r.Warm}, {"on", r.On}, {"off", r.Off}, {"each step", r.Each}} {
		if !(l.v >= 0) || l.v > longest {
			return fmt.Errorf("%s of %g s cannot be", l.what, l.v)
		}
	}
	switch {
	case r.For == 0:
		return errors.New("say how long it is to soak")
	case r.Cycles < 0 || r.Cycles > mostSteps/2 || len(r.Steps)+len(r.Loads) > mostSteps/4:
		return fmt.Errorf("so many steps are no plan: %d at most", mostSteps/4)
	case r.Cycles > 0 && (r.On == 0 || r.Off == 0):
		return errors.New("say how long a cycle is on and how long it is off")
	case (r.Cycles > 0 || len(r.Steps) > 0) && r.Output == "":
		return errors.New("say which output is switched")
	case len(r.Loads) > 0 && r.Load == "":
		return errors.New("say which electronic load is set")
	case len(r.Steps)+len(r.Loads) > 0 && r.Each == 0:
		return errors.New("say how long each step lasts")
	case r.needed() > r.For:
		return fmt.Errorf("cycles and steps take %.0f min under power, longer than the soak of %.0f min", r.needed()/60, r.For/60)
	}
	for _, v := range append(append([]float64{}, r.Steps...), r.Loads...) {
		if !(v >= 0) || v > 1e4 {
			return fmt.Errorf("a step to %g cannot be", v)
		}
	}
	return nil
}

// needed is the time under power that cycles and steps take.
func (r Regimen) needed() float64 {
	return float64(float64(r.Cycles)*r.On) + float64(float64(len(r.Steps)+len(r.Loads))*r.Each)
}

// Course lists the steps in order: warm-up, set-points, loads, cycles, and what is
// left of the soak. Nothing but the plan decides it.
func (r Regimen) Course() []RegimenStep {
	var out []RegimenStep
	add := func(kind string, seconds, at float64, format string, args ...any) {
		out = append(out, RegimenStep{Kind: kind, Long: time.Duration(seconds * float64(time.Second)), At: at, Say: fmt.Sprintf(format, args...)})
	}
	if r.Warm > 0 {
		add(StepWarm, r.Warm, 0, "warm up until it has settled, %s at most", minutes(r.Warm))
	}
	for _, v := range r.Steps {
		add(StepInput, r.Each, v, "%s to %s, %s", r.Output, Volt.Text(v, 0.01), minutes(r.Each))
	}
	if len(r.Steps) > 0 && r.Back > 0 {
		add(StepInput, 0, r.Back, "%s back to %s", r.Output, Volt.Text(r.Back, 0.01))
	}
	for _, v := range r.Loads {
		add(StepLoad, r.Each, v, "%s to %s, %s", r.Load, Ampere.Text(v, 0.001), minutes(r.Each))
	}
	for i := range r.Cycles {
		add(StepOff, r.Off, 0, "%s off for %s, cycle %d of %d", r.Output, minutes(r.Off), i+1, r.Cycles)
		add(StepOn, r.On, 0, "%s on for %s, cycle %d of %d", r.Output, minutes(r.On), i+1, r.Cycles)
	}
	if rest := r.For - r.needed(); rest > 0 {
		add(StepSoak, rest, 0, "soak for %s", minutes(rest))
	}
	return out
}

// Switches reports whether the plan switches or sets anything, for which a person
// has to let it.
func (r Regimen) Switches() bool { return r.Cycles > 0 || len(r.Steps) > 0 || len(r.Loads) > 0 }

// Say tells a person what will be done, to be agreed to.
func (r Regimen) Say() string {
	var parts []string
	if r.Warm > 0 {
		parts = append(parts, "a warm-up until settled, "+minutes(r.Warm)+" at most")
	}
	if len(r.Steps) > 0 {
		parts = append(parts, fmt.Sprintf("%s set to %s for %s each", r.Output, figures(r.Steps, Volt), minutes(r.Each)))
	}
	if len(r.Loads) > 0 {
		parts = append(parts, fmt.Sprintf("%s set to %s for %s each", r.Load, figures(r.Loads, Ampere), minutes(r.Each)))
	}
	if r.Cycles > 0 {
		parts = append(parts, fmt.Sprintf("%s switched off for %s and on for %s, %d times", r.Output, minutes(r.Off), minutes(r.On), r.Cycles))
	}
	parts = append(parts, minutes(r.For)+" under power in all")
	return strings.Join(parts, "; ") + "."
}

func figures(list []float64, u Unit) string {
	var out []string
	for _, v := range list {
		out = append(out, u.Text(v, 0.01))
	}
	return strings.Join(out, ", ")
}

// minutes says a length of the plan in the units that a person plans with.
func minutes(seconds float64) string {
	switch {
	case seconds < 120:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 7200:
		return fmt.Sprintf("%.0f min", seconds/60)
	}
	h, m := int(seconds)/3600, int(seconds)%3600/60
	if m == 0 {
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}

// Text is the JSON of it.
func (r Regimen) Text() string {
	b, err := json.Marshal(r)
	if err != nil {
		return "{}" // cannot be: Check lets no infinite figure pass
	}
	return string(b)
}

// ParseRegimen reads the text of [ActRegimen].
func ParseRegimen(text string) (Regimen, error) {
	var r Regimen
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		return r, fmt.Errorf("%.60q is no plan of a soak", text)
	}
	return r, r.Check()
}

// The states of a plan.
const (
	PlanRuns    = "running"
	PlanWaits   = "waiting" // for a person, after a restart
	PlanDone    = "done"
	PlanStopped = "stopped"
)

// RegimenState is how far a plan is, as the record tells it. Lengths in JSON are
// nanoseconds.
type RegimenState struct {
	Job     string        `json:"job,omitempty"`
	Plan    Regimen       `json:"plan"`
	State   string        `json:"state"` // running, waiting, done, stopped; empty: there is no plan
	Why     string        `json:"why,omitempty"`
	Step    int           `json:"step"` // number of the present one, from 1; 0: none
	Steps   []RegimenTold `json:"steps"`
	Next    string        `json:"next,omitempty"` // what comes after the present step
	From    Instant       `json:"from,omitempty"`
	Needed  time.Duration `json:"needed"`  // under power and watched
	Watched time.Duration `json:"watched"` // of it, so far
	Parts   []SoakPart    `json:"parts"`   // what was watched without a break: what counts of them comes to Watched
	Off     time.Duration `json:"off"`     // power was off as planned so long, besides
	InStep  time.Duration `json:"in_step"` // watched, of the present step
	Cycles  int           `json:"cycles"`  // that are over
	Say     []string      `json:"say"`     // sentences: elapsed and needed, pieces, what it proves so far, next
}

// RegimenTold is a step and what became of it.
type RegimenTold struct {
	RegimenStep
	From    Instant `json:"from,omitempty"`
	To      Instant `json:"to,omitempty"`
	State   string  `json:"state,omitempty"`   // begun, done, stopped; empty: still to come
	Verdict string  `json:"verdict,omitempty"` // alarms, and each rail's worst mean over a minute with its outcome
}
