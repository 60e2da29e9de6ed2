package rules

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// Output is what a record led to.
type Output struct {
	Transitions []capture.Transition // in order
	Verdicts    []capture.Verdict    // those that changed
	Derived     []capture.Derived    // formulas with a new figure, or none any more
	Trips       []Trip               // outputs that are to be switched off; a replay leaves them alone
	Cold        bool                 // what [Engine.ColdPassed] says may be another
}

// Engine judges one job. The zero value is not ready: use [New]. It is not
// safe for concurrent use.
type Engine struct {
	version  string
	sheet    capture.Sheet
	roster   capture.Roster
	set      capture.RuleSet
	stage    capture.Stage
	off      []string // subjects whose output is off, in order
	closed   bool
	places   capture.Placements
	channels map[capture.ChannelID]*channel // looked up, never ranged over
	known    []*channel                     // the same, in the order in which they were first named
	rails    []*railState
	watchers []*watcher
	injects  []*watcher // of these, what watches over injections
	mutes    capture.Mutes
	problems []error
	formulas []*derived
	unformed []error // what is wrong with formulas
	tick     uint64  // counts ticks: what was raised before this tick is known to all
	room     kind.Room
	guard    capture.Protections
	hopeless []string        // outputs that a trip could not switch off
	cold     coldChecks      // see ColdPassed
	reading  capture.Reading // the one being judged, kept here for the sake of the garbage collector
	out      Output
}

// New returns an engine with no job yet. The version is what it writes of
// itself; empty stands for [Version].
func New(version string) *Engine {
	if version == "" {
		version = Version
	}
	return &Engine{version: version, stage: capture.TakeIn, channels: map[capture.ChannelID]*channel{}}
}

// Version returns the engine's version.
func (e *Engine) Version() string { return e.version }

// Problems lists the rules and formulas that could not be put in force, and why.
func (e *Engine) Problems() []error { return slices.Concat(e.problems, e.unformed) }

// Consume takes the next record of the job, or a tick, and returns what it
// led to. The caller owns the output.
func (e *Engine) Consume(rec capture.Record) Output {
	e.out = Output{}
	e.guard.Consume(rec)
	switch item := rec.Item.(type) {
	case capture.Reading:
		e.reading = item
		e.read(rec.At, &e.reading)
	case capture.Tick:
		e.ticked(rec.At)
	case capture.Placement:
		e.place(rec.At, item)
	case capture.Act:
		e.act(rec.At, item)
	case capture.Sheet:
		e.sheet = item
		e.rebuild(rec.At)
	case capture.Roster:
		e.roster = item
		e.describe()
		e.formulate()
		e.reseat(rec.At, nil)
	case capture.RuleSet:
		e.set = item
		e.rebuild(rec.At)
	case capture.Gap:
		e.blind(rec.At)
	}
	return e.out
}

// Verdicts returns every rule's verdict as it is now.
func (e *Engine) Verdicts() []capture.Verdict {
	out := make([]capture.Verdict, 0, len(e.watchers))
	for _, w := range e.watchers {
		out = append(out, w.judge.Verdict())
	}
	return out
}

// read judges one reading by the rules that listen to its channel, and keeps
// it for those that will hear of it with the next tick.
func (e *Engine) read(at capture.Instant, r *capture.Reading) {
	e.injected(at, r)
	ch := e.channels[r.Channel]
	if ch == nil || ch.idle || ch.straddles(r) {
		return
	}
	if ch.info.Quantity == capture.NoQuantity && r.Quantity != capture.NoQuantity {
		ch.info.Quantity = r.Quantity // not on the roster: what was typed by hand
		e.reseat(at, ch)
	}
	e.roomBy(at, ch, r)
	e.note(at, r)
	e.heard(at, ch, r)
	if ch.rail != nil {
		ch.rail.hear(at, ch, r)
	}
}

// heard hands a reading to the rules that listen to its channel.
func (e *Engine) heard(at capture.Instant, ch *channel, r *capture.Reading) {
	for _, w := range ch.watchers {
		w.judge.Read(at, r)
		w.dirty = true
		w.again = w.again || w.presentSince != 0 && r.Good()
		e.evaluate(w, at)
		e.showIfTurned(w)
	}
	ch.beside.hear(at, r)
}

// ticked lets time pass for every rule.
func (e *Engine) ticked(at capture.Instant) {
	e.tick++
	e.derive(at)
	up := false
	e.tellBeside()
	for _, r := range e.rails {
		r.tell()
		up = r.turnedUp(at) || up
	}
	if up && len(e.off) > 0 {
		e.rearm(at)
	}
	for _, w := range e.watchers {
		w.judge.Tick(at)
		e.evaluate(w, at)
		e.remute(w, at)
		w.dirty = w.dirty || w.judge.Outcome() != w.shown.Outcome // silence, too, turns a verdict
		e.show(w)
	}
}

// blind tells every rule that readings may be missing.
func (e *Engine) blind(at capture.Instant) {
	e.forgetInputs()
	for _, r := range e.rails {
		r.forget()
	}
	for _, ch := range e.known {
		ch.beside.forget()
	}
	for _, w := range e.watchers {
		w.judge.Blind(at)
		w.presentSince, w.absentSince = 0, 0
		w.dirty = true
		e.evaluate(w, at)
	}
}

func (e *Engine) rail(name string) *railState {
	for _, r := range e.rails {
		if r.rail.Name == name {
			return r
		}
	}
	return nil
}
