package rules

import (
	"fmt"
	"strings"
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
		return fmt.Sprintf("; %s"+fellFirst+"%.1f s", first.rail.Name, sure.Sub(began).Seconds())
	case to < began:
		return ""
	}
	return "; " + whetherFirst + first.rail.Name + " fell first"
}

// The words of it, by which it is found again in a recorded alarm.
const (
	fellFirst    = " fell first, within "
	whetherFirst = "cannot tell whether "
)

// firstIn returns what an alarm says of the order in which rails fell: "+12 V
// audio fell first, within 0.2 s", "cannot tell whether +12 V audio fell first",
// or nothing.
func firstIn(say string) string {
	for part := range strings.SplitSeq(say, "; ") {
		part, _, _ = strings.Cut(part, ". ")
		if strings.Contains(part, fellFirst) || strings.HasPrefix(part, whetherFirst) && strings.HasSuffix(part, " fell first") {
			return part
		}
	}
	return ""
}

// orders says of failures that they were not the first to fall, or that nobody
// can tell, and which were the trip of a supply: at most so many sentences.
func orders(failed []capture.Transition) (out []string) {
	for _, t := range failed {
		if t.Kind == "found off" && len(out) < mostOrders { // with what fell at the same time
			out = append(out, t.Say+".")
		}
		if first := firstIn(t.Say); first != "" && len(out) < mostOrders {
			out = append(out, "When "+t.Rail+" fell: "+first+".")
		}
	}
	return out
}

const mostOrders = 4
