package rules

import (
	"reflect"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// rebuild puts the rules in force on the rails of the sheet. A rule that is
// unchanged, on an unchanged rail, keeps its state.
func (e *Engine) rebuild(at capture.Instant) {
	old := e.watchers
	e.rails, e.watchers, e.problems = e.railStates(), nil, Check(e.sheet, e.set)
	for _, rule := range e.set.Rules {
		if w := e.watcherFor(rule, old); w != nil {
			e.watchers = append(e.watchers, w)
		}
	}
	e.injects = watchingInjections(e.watchers)
	for _, w := range old {
		e.retire(w, at)
	}
	for _, w := range e.watchers {
		e.rail(w.rule.Rail).watchers = append(e.rail(w.rule.Rail).watchers, w)
	}
	e.formulate()
	e.reseat(at, nil)
}

// railStates makes the state of each rail of the sheet, or keeps that of a rail
// that is unchanged.
func (e *Engine) railStates() (out []*railState) {
	for _, r := range e.sheet.Rails {
		state := e.rail(r.Name)
		if state == nil || !reflect.DeepEqual(state.rail, r) {
			state = &railState{rail: r}
		}
		state.watchers = nil
		out = append(out, state)
	}
	return out
}

func (e *Engine) watcherFor(rule capture.Rule, old []*watcher) *watcher {
	k, known := kind.Find(rule.Kind)
	rail, onSheet := e.sheet.Rail(rule.Rail)
	if !known || !onSheet || kind.Check(rule) != nil || named(e.watchers, rule.Name) != nil {
		return nil
	}
	other, there := e.sheet.Rail(rule.Against)
	if k.Against == kind.AgainstRail && !there {
		return nil
	}
	if w := named(old, rule.Name); w != nil && w.rule == rule && reflect.DeepEqual(w.rail, rail) && reflect.DeepEqual(w.other, other) {
		return w
	}
	return &watcher{rule: rule, rail: rail, other: other, kind: k, judge: k.New(kind.Case{Rule: rule, Rail: rail, Other: other, Guard: &e.guard})}
}

// retire ends the alarm of a rule that is gone or has changed.
func (e *Engine) retire(w *watcher, at capture.Instant) {
	heir := named(e.watchers, w.rule.Name)
	if heir == w || w.state == capture.Normal {
		return
	}
	say := "rule removed"
	if heir != nil {
		say = "rule changed"
	}
	e.move(w, at, capture.Normal, kind.Finding{Say: say, Evidence: []capture.Instant{at}}, "", say)
}

func named(list []*watcher, name string) *watcher {
	for _, w := range list {
		if w.rule.Name == name {
			return w
		}
	}
	return nil
}
