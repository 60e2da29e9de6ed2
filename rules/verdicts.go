package rules

import (
	"slices"

	"steadyrail/capture"
)

// Newest returns what the last rule of some kinds on a rail says now, of those that
// say something: of the record that was consumed last. False: none does.
func (e *Engine) Newest(rail string, kinds ...string) (v capture.Verdict, found bool) {
	for _, w := range e.watchers {
		if w.rule.Rail != rail || !slices.Contains(kinds, w.rule.Kind) || w.judge.Outcome() == capture.NoData {
			continue
		}
		v, found = w.judge.Verdict(), true
	}
	return v, found
}
