package rules

import "steadyrail/capture"

// anewLimit is how often within [chatterSpan] an alarm is told anew: as often
// as one that comes and goes is told. What turns more often waits, and is told
// as it stands then.
const anewLimit = chatterLimit

// retell tells an active alarm anew when its cause has turned into another one
// than the person was told: "is disconnected" into "is another instrument". It
// is the same occurrence and stays active, but nobody has heard this of it yet.
// What only grows or varies (a value, a length) is no other story.
func (e *Engine) retell(w *watcher, at capture.Instant) {
	story := w.judge.Story()
	if story == "" || story == w.story || w.anew.count(at) >= anewLimit {
		return
	}
	w.anew.add(at)
	f := w.judge.Finding()
	f.Evidence = append(f.Evidence, at)
	w.why, w.story = f, story
	to, _ := next(w.state, turns, w.rule.Latch)
	e.move(w, at, to, f, "", e.reason(w, at))
}
