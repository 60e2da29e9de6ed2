package job

import (
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// Regimen is the plan of a job's soak as its records tell it: which step it is in,
// and how much of that was watched. A stretch in which nothing ran counts for
// nothing. After a gap the plan waits before it switches again: the record cannot
// say that somebody still wants it. The zero value is a job without a plan. It is
// not safe for concurrent use.
type Regimen struct {
	plan   capture.Regimen
	steps  []capture.RegimenTold
	now    int // index of the present step; -1: between two
	begun  bool
	state  string
	why    string
	from   capture.Instant
	ended  capture.Instant
	gaps   []capture.Gap
	held   bool // a gap came, and nobody let it go on
	cycles int
}

// Consume takes the next record of the job.
func (r *Regimen) Consume(rec capture.Record) {
	switch it := rec.Item.(type) {
	case capture.Act:
		r.act(rec.At, it)
	case capture.Gap:
		if r.running() {
			r.gaps = append(r.gaps, it)
			r.held = r.held || r.plan.Switches()
		}
	}
}

func (r *Regimen) running() bool { return r.state == capture.PlanRuns }

func (r *Regimen) act(at capture.Instant, a capture.Act) {
	switch a.Verb {
	case capture.ActRegimen:
		r.lay(at, a)
	case capture.ActSoakStep:
		r.step(at, a)
	case capture.ActSoak:
		if a.Text == "stop" && r.running() {
			r.end(at, capture.PlanStopped, "the soak was stopped")
		}
	case capture.ActOutput:
		off := a.Text == "off"
		if off && a.By != capture.ByPlan && r.running() && r.plan.Cycles+len(r.plan.Steps) > 0 && a.Concerns(r.plan.Output) {
			r.end(at, capture.PlanStopped, a.Subject+" was switched off"+by(a.By))
		}
	case capture.ActClose:
		if r.running() {
			r.end(at, capture.PlanStopped, "the job was closed")
		}
	case capture.ActStage:
		if a.Stage != capture.Soak && a.Stage != capture.WarmUp && r.running() {
			r.end(at, capture.PlanStopped, "the job went to "+string(a.Stage))
		}
	}
}

// lay begins a plan, in place of an earlier one.
func (r *Regimen) lay(at capture.Instant, a capture.Act) {
	plan, err := capture.ParseRegimen(a.Text)
	if err != nil {
		return
	}
	*r = Regimen{plan: plan, now: -1, begun: true, state: capture.PlanRuns, from: at}
	for _, s := range plan.Course() {
		r.steps = append(r.steps, capture.RegimenTold{RegimenStep: s})
	}
}

func (r *Regimen) step(at capture.Instant, a capture.Act) {
	i := int(a.Value) - 1
	word, why, _ := strings.Cut(a.Text, ": ")
	if !r.begun {
		return
	}
	if word == capture.StepGoesOn {
		r.held = false
		return
	}
	if i < 0 || i >= len(r.steps) {
		return
	}
	s := &r.steps[i]
	switch word {
	case capture.StepBegun:
		r.now, s.From, s.State = i, at, capture.StepBegun
	case capture.StepDone:
		s.To, s.State, s.Verdict = at, capture.StepDone, why
		if s.Kind == capture.StepOn {
			r.cycles++
		}
		if i == len(r.steps)-1 {
			r.end(at, capture.PlanDone, "")
		}
	case capture.StepStopped:
		s.State = capture.StepStopped
		r.end(at, capture.PlanStopped, why)
	}
}

func (r *Regimen) end(at capture.Instant, state, why string) {
	r.state, r.why, r.ended = state, why, at
	if r.now >= 0 && r.now < len(r.steps) && r.steps[r.now].To == 0 {
		r.steps[r.now].To = at
	}
}

// Due is what the plan wants now: the number of the step to begin, the number of
// the one to end, or neither (0). With waits it wants to go on switching and a
// person has to let it.
func (r *Regimen) Due(now capture.Instant, settled bool) (begin, end int, waits bool) {
	if !r.running() || len(r.steps) == 0 {
		return 0, 0, false
	}
	i := r.now
	if i >= 0 && r.steps[i].State == capture.StepBegun {
		s := r.steps[i]
		if over := r.watched(s.From, now) >= s.Long || s.Kind == capture.StepWarm && settled; !over {
			return 0, 0, false
		}
		return 0, i + 1, false
	}
	next := i + 1
	if next >= len(r.steps) {
		return 0, 0, false
	}
	if r.steps[next].Switches() && r.held {
		return 0, 0, true
	}
	return next + 1, 0, false
}

// Step is a step by its number.
func (r *Regimen) Step(number int) (capture.RegimenStep, bool) {
	if number < 1 || number > len(r.steps) {
		return capture.RegimenStep{}, false
	}
	return r.steps[number-1].RegimenStep, true
}

// Plan returns the plan, and whether there is one.
func (r *Regimen) Plan() (capture.Regimen, bool) { return r.plan, r.begun }

// watched is how much of a stretch was not in a gap.
func (r *Regimen) watched(from, to capture.Instant) time.Duration {
	return total(r.parts(from, to))
}

func total(parts []capture.SoakPart) (d time.Duration) {
	for _, p := range parts {
		d += p.To.Sub(p.From)
	}
	return d
}

// parts cuts the gaps out of a stretch.
func (r *Regimen) parts(from, to capture.Instant) (out []capture.SoakPart) {
	for _, g := range r.gaps {
		if g.To <= from || g.From >= to {
			continue
		}
		if g.From > from {
			out = append(out, capture.SoakPart{From: from, To: g.From})
		}
		from = max(from, g.To)
	}
	if from < to {
		out = append(out, capture.SoakPart{From: from, To: to})
	}
	return out
}

// State says how far the plan is at an instant. Its sentences are left to who may
// judge.
func (r *Regimen) State(now capture.Instant) capture.RegimenState {
	s := capture.RegimenState{Plan: r.plan, State: r.state, Why: r.why, From: r.from, Steps: slices.Clone(r.steps), Parts: []capture.SoakPart{}, Cycles: r.cycles}
	if !r.begun {
		s.Steps = []capture.RegimenTold{}
		return s
	}
	s.Needed = seconds(r.plan.For)
	if r.ended != 0 {
		now = min(now, r.ended)
	}
	if r.running() && r.held {
		s.State, s.Why = capture.PlanWaits, "it did not run for a while, and switches nothing again before a person lets it: steadyrail soak resume"
	}
	s.Parts, s.Off = append(s.Parts, r.counted(now)...), r.off(now)
	for _, p := range s.Parts {
		s.Watched += p.Long()
	}
	if r.now >= 0 && r.now < len(r.steps) && r.steps[r.now].To == 0 {
		s.Step = r.now + 1
		if t := r.steps[r.now]; counts(t) {
			s.InStep = r.watched(t.From, now)
		}
	}
	if next := r.now + 1; r.running() && next < len(r.steps) {
		s.Next = r.steps[next].Say
	}
	return s
}
