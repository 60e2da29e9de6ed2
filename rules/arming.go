package rules

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// rearm tells every rule whether it may raise an alarm now.
func (e *Engine) rearm(at capture.Instant) {
	for _, w := range e.watchers {
		a := e.arming(w)
		if a == w.arming && w.told {
			continue
		}
		w.arming, w.told, w.dirty = a, true, true
		w.judge.Arm(at, a)
		e.evaluate(w, at)
	}
}

func (e *Engine) arming(w *watcher) kind.Arming {
	a := kind.Arming{Cold: e.stage.Cold() || e.switchedOff(w)}
	switch {
	case e.closed:
		a.Why = "the job is closed"
	case w.kind.Need == kind.Always:
		a.Armed = true
	case w.channel == nil:
		a.Why = "nothing stands on it"
	case w.kind.Need == kind.Dead && e.stage != capture.ColdChecks && e.stage != capture.Isolate:
		a.Why = "only in cold checks and while isolating"
	case w.kind.Need == kind.Dead:
		a.Armed = true
	case !e.clipped(w.channel):
		a.Why = "the probe is only touched"
	case !e.stage.Live():
		a.Why = "the stage is " + string(e.stage)
	case e.switchedOff(w):
		a.Why = "the output is off"
	default:
		a.Armed = true
	}
	return a
}

// switchedOff reports whether an output was switched off and the rail has not
// shown since that it is powered all the same, from another source.
func (e *Engine) switchedOff(w *watcher) bool {
	return len(e.off) > 0 && !e.rail(w.rule.Rail).up
}

// act takes what a person did.
func (e *Engine) act(at capture.Instant, act capture.Act) {
	for _, w := range e.watchers {
		w.judge.Act(at, &act)
		w.dirty = true
		if w.kind.Need == kind.Always {
			e.evaluate(w, at)
		}
	}
	switch act.Verb {
	case capture.ActStage:
		e.stage = act.Stage
		e.rearm(at)
	case capture.ActOutput:
		e.output(act)
		e.gaveUp(act)
		e.rearm(at)
	case capture.ActPolarity:
		e.cold.ways.Take(act)
	case capture.ActClose:
		e.closed = true
		e.rearm(at)
	case capture.ActOpen:
		e.reopen(at)
	case capture.ActAmbient:
		e.roomIs(kind.Room{Celsius: act.Value, At: at, Typed: true})
	case capture.ActLinkLost:
		e.lost(at, act.Subject)
	case capture.ActHeard, capture.ActReset:
		e.answer(at, act)
	case capture.ActMute:
		e.mute(at, act)
	}
}

// reopen watches over a job again that was closed: what was read before says
// nothing about now.
func (e *Engine) reopen(at capture.Instant) {
	if !e.closed {
		return
	}
	e.closed = false
	e.blind(at)
	e.rearm(at)
}

// concerns reports whether an act on an output says anew what is so of one that
// was switched off: the same one, all of the instrument, or one of all. Where
// only a part of what went off goes on again, the rules watch again: a rail that
// is off on purpose may alarm, one that fails may not stay unseen.
func concerns(act capture.Act, off string) bool { return capture.SameOutput(act.Subject, off) }

// output remembers which outputs are off.
func (e *Engine) output(act capture.Act) {
	e.off = slices.DeleteFunc(e.off, func(s string) bool { return concerns(act, s) })
	if act.Text != "off" && act.Text != capture.SwitchingOff {
		return
	}
	e.off = append(e.off, act.Subject)
	for _, r := range e.rails {
		r.inBand, r.up = 0, false
	}
}

// lost makes the rules blind that listen to an instrument whose link is gone.
// Silent keeps counting: it is the one that says so.
func (e *Engine) lost(at capture.Instant, instrument string) {
	for _, w := range e.watchers {
		if w.channel == nil || !e.hangsOn(w.channel, instrument) || w.rule.Kind == "silent" {
			continue
		}
		w.judge.Blind(at)
		w.presentSince, w.absentSince = 0, 0
		e.evaluate(w, at)
	}
}
