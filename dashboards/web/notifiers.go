package web

import (
	"fmt"
	"strings"

	"steadyrail/capture/live"
)

// told is a notifier as the Bench page lists it.
type told struct {
	Name, Say string
	Lost      bool
}

// Told lists the notifiers and how they fare.
func (v *view) Told() []told {
	var out []told
	for _, n := range v.snap.Notifiers {
		say := fmt.Sprintf("%d told", n.Sent)
		if n.Tests > 0 {
			say = toldTests(n)
		}
		switch {
		case n.Lost():
			say = "fails for " + spanText(n.Failing)
		case !n.Tried && n.Sent == 0:
			say = "not tried yet"
		}
		if n.Failed > 0 {
			say += fmt.Sprintf(", %d did not arrive", n.Failed)
		}
		out = append(out, told{n.Name, say, n.Lost()})
	}
	return out
}

// toldTests says how many tests arrived, beside the alarms when there were any.
func toldTests(n live.NotifierView) string {
	tests := fmt.Sprintf("%d tests told", n.Tests)
	if n.Tests == 1 {
		tests = "1 test told"
	}
	if n.Sent == 0 {
		return tests + ", no alarm yet"
	}
	return fmt.Sprintf("%d told, %s", n.Sent, tests)
}

// Untold says that what is told does not arrive, for every screen; empty while
// it does. A terminal is nobody: who looks at it, looks at the bench too.
func (v *view) Untold() string {
	var lost []string
	others := 0
	for _, n := range v.snap.Notifiers {
		switch {
		case n.Lost():
			lost = append(lost, fmt.Sprintf("%s has failed for %s: %s", calledAs(n), spanText(n.Failing), n.Problem))
		case n.Kind != "terminal":
			others++
		}
	}
	switch {
	case len(lost) == 0:
		return ""
	case others == 0:
		return "Nobody is told: " + strings.Join(lost, "; ")
	}
	return "Not everybody is told: " + strings.Join(lost, "; ")
}

// calledAs is "webhook shop"; a name that says its kind stands alone.
func calledAs(n live.NotifierView) string {
	if n.Kind == "" || strings.HasPrefix(n.Name, n.Kind) {
		return n.Name
	}
	return n.Kind + " " + n.Name
}
