package rules

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// watcher is one rule in force: its judge, the channel it listens to and the
// life of its alarm.
type watcher struct {
	rule    capture.Rule
	rail    capture.Rail
	other   capture.Rail // that it is held against; zero: none
	kind    kind.Kind
	judge   kind.Judge
	channel *channel // nil: nothing stands on the rail
	seat    kind.Seat
	sat     bool
	arming  kind.Arming
	told    bool // arming was told to the judge

	state        capture.AlarmState
	raised       capture.Instant // when this occurrence began
	activeAt     capture.Instant // when the condition came last
	activeTick   uint64
	endedAt      capture.Instant // when it went last
	presentSince capture.Instant // on-delay runs since; 0: does not
	again        bool            // another reading has said so since presentSince
	absentSince  capture.Instant // off-delay runs since
	why          kind.Finding    // as it was told last
	story        string          // the judge's story as it was told last
	muted        string
	chatter      chatter
	anew         chatter // when it was told anew

	dirty bool            // heard something since the verdict was shown
	shown capture.Verdict // as last handed out
}

// evaluate moves a rule's alarm by its condition as it is now.
func (e *Engine) evaluate(w *watcher, at capture.Instant) {
	cond := w.judge.Condition()
	if !w.arming.Armed {
		cond = kind.Absent
	}
	switch cond {
	case kind.Unknown:
		w.presentSince, w.absentSince, w.again = 0, 0, false
	case kind.Present:
		e.present(w, at)
	case kind.Absent:
		e.absent(w, at)
	}
}

func (e *Engine) present(w *watcher, at capture.Instant) {
	w.absentSince = 0
	if w.state.IsActive() {
		e.retell(w, at)
		return
	}
	if w.presentSince == 0 {
		w.presentSince = at
	}
	if at.Sub(w.presentSince) < w.rule.OnDelay || !w.persists() {
		return
	}
	f := w.judge.Finding()
	f.Say += e.firstDown(w)
	f.Evidence = append(f.Evidence, w.presentSince)
	if w.state == capture.Normal {
		w.raised = at
	}
	w.activeAt, w.activeTick = at, e.tick
	w.chatter.add(at)
	if w.chatter.count(at) == chatterLimit {
		f.Say += ". Third time within a minute: more are counted, not told"
	}
	w.why, w.story = f, w.judge.Story() // as told: the same words when it is heard or muted
	to, _ := next(w.state, comes, w.rule.Latch)
	e.move(w, at, to, f, "", e.reason(w, at))
	e.trip(w, at)
}

// persists reports whether a level that must last was seen more than once: a
// single outlier and then silence is no level.
func (w *watcher) persists() bool {
	return w.rule.OnDelay == 0 || w.kind.Falls == 0 && !w.kind.Level || w.again
}

func (e *Engine) absent(w *watcher, at capture.Instant) {
	w.presentSince, w.again = 0, false
	if !w.state.IsActive() {
		return
	}
	if w.absentSince == 0 {
		w.absentSince = at
	}
	if w.arming.Armed && at.Sub(w.absentSince) < w.rule.OffDelay {
		return
	}
	f, quiet := w.judge.Recovery(), w.muted
	if !w.arming.Armed {
		f = w.unwatched(at)
		quiet = w.arming.Why
	}
	if f.Quiet != "" {
		quiet = f.Quiet
	}
	w.endedAt = at
	to, _ := next(w.state, goes, w.rule.Latch)
	if w.suppressed(to) {
		to = capture.Normal
	}
	e.move(w, at, to, f, "", quiet)
}

// unwatched is how an alarm ends whose rail is not watched any more, such as after
// its own trip. What was told stays: it is what a person has to hear of, for nobody
// measured that it has gone.
func (w *watcher) unwatched(at capture.Instant) kind.Finding {
	return kind.Finding{
		Say: capture.Unwatched(w.why.Say, w.rail.Name, w.arming.Why), Advice: w.why.Advice, Value: w.why.Value, Limit: w.why.Limit, Unit: w.why.Unit,
		Evidence: append(slices.Clone(w.why.Evidence), at),
	}
}

// answer takes *heard* and *reset latch*. A latch that is reset unheard counts
// as heard by the same person at the same moment.
func (e *Engine) answer(at capture.Instant, act capture.Act) {
	events := []event{heard}
	if act.Verb == capture.ActReset {
		events = []event{heard, reset}
	}
	for _, w := range e.watchers {
		latched := w.state == capture.Latched || w.state == capture.LatchedHeard
		if w.state == capture.Normal || !w.concerns(act.Subject) || act.Verb == capture.ActReset && !latched {
			continue
		}
		for _, ev := range events {
			if to, ok := next(w.state, ev, w.rule.Latch); ok {
				f := w.why
				f.Evidence = []capture.Instant{at}
				e.move(w, at, to, f, act.By, w.muted)
			}
		}
	}
}

// concerns reports whether a subject, which is an alarm, a rule, a rail or
// empty for all, means this rule.
func (w *watcher) concerns(subject string) bool {
	alarm := ""
	if w.state != capture.Normal {
		alarm = w.alarm()
	}
	return capture.Mute{Subject: subject}.Concerns(w.rule.Name, w.rail.Name, alarm)
}

func (w *watcher) alarm() string { return capture.AlarmID(w.rule.Name, w.raised) }

// move writes a transition and makes it so.
func (e *Engine) move(w *watcher, at capture.Instant, to capture.AlarmState, f kind.Finding, by, muted string) {
	t := capture.Transition{
		At: at, Alarm: w.alarm(), Rule: w.rule.Name, Kind: w.rule.Kind, Rail: w.rail.Name, Severity: w.rule.Severity,
		From: w.state, To: to, Raised: w.raised, Say: f.Say, Advice: f.Advice, Value: f.Value, Limit: f.Limit, Unit: f.Unit,
		Channel: w.seat.Channel.ID, Evidence: tidy(f.Evidence), Muted: muted, By: by,
	}
	w.state, w.muted = to, muted
	if to == capture.Normal {
		w.muted = ""
	}
	e.out.Transitions = append(e.out.Transitions, t)
}

// tidy orders the instants and drops what is unknown or twice there.
func tidy(list []capture.Instant) []capture.Instant {
	list = slices.DeleteFunc(slices.Clone(list), capture.Instant.IsZero)
	slices.Sort(list)
	return slices.Compact(list)
}

// show hands out the verdict if it changed.
func (e *Engine) show(w *watcher) {
	if !w.dirty {
		return
	}
	w.dirty = false
	v := w.judge.Verdict()
	e.noteCold(v) // also one that says the same of a newer reading
	if !changed(v, w.shown) {
		return
	}
	w.shown = v
	e.out.Verdicts = append(e.out.Verdicts, v)
}

// showIfTurned hands a verdict out at once when its outcome turned; the rest
// waits for the tick.
func (e *Engine) showIfTurned(w *watcher) {
	if w.judge.Outcome() != w.shown.Outcome {
		e.show(w)
	}
}

func changed(a, b capture.Verdict) bool {
	return a.Rule != b.Rule || a.Outcome != b.Outcome || a.Say != b.Say || a.Value != b.Value ||
		a.Uncertainty != b.Uncertainty || a.Channel != b.Channel || a.Indicated != b.Indicated ||
		a.Overdue != b.Overdue || a.Note != b.Note || a.Held != b.Held || a.Leads != b.Leads
}
