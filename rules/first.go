package rules

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// fallen is a judge that knows within what stretch its rail fell.
type fallen interface {
	Fell() (from, to capture.Instant, down bool)
}

// sameFall is how near two rails must fall for it to be asked which was first.
const sameFall = 10 * time.Second

// firstDown says which rail fell first, where another one is down as well. It is
// told only when the stretches lie apart in which each is known to have fallen.
func (e *Engine) firstDown(w *watcher) string {
	own, is := w.judge.(fallen)
	if !is {
		return ""
	}
	from, to, _ := own.Fell()
	var first *watcher
	var began, sure capture.Instant
	for _, o := range e.watchers {
		other, is := o.judge.(fallen)
		if !is || o == w || o.rail.Name == w.rail.Name {
			continue
		}
		if f, t, down := other.Fell(); down && from.Sub(t) < sameFall && (first == nil || t < sure) {
			first, began, sure = o, f, t
		}
	}
	switch {
	case first == nil:
		return ""
	case sure < from:
		return fmt.Sprintf("; %s fell first, within %.1f s", first.rail.Name, sure.Sub(began).Seconds())
	case to < began:
		return ""
	}
	return "; cannot tell whether " + first.rail.Name + " fell first"
}
