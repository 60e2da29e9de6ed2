package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/rules/notify"
)

// message begins what is told about a transition.
func (a *App) message(job string, t capture.Transition) notify.Message {
	return notify.Message{Alarm: t, Bench: a.o.Config.Bench, Job: job, Links: a.links()}
}

func (a *App) links() map[string]string {
	return map[string]string{"alarms": "http://" + a.Address() + "/alarms"}
}

// whatIsOpen lists every open alarm of every open job, for notifiers that keep
// a picture of all.
func (a *App) whatIsOpen() []notify.Message {
	var out []notify.Message
	for _, j := range a.table.Snapshot().Jobs {
		for _, t := range j.Alarms {
			m := a.message(j.Sheet.Job, t)
			m.Rail, _ = j.Sheet.Rail(t.Rail)
			out = append(out, m)
		}
	}
	return out
}

// notifierView puts a dispatcher's figures on the screens. The dispatcher
// counts wall time, whatever the bench's clock does.
func notifierView(s notify.Stat, now time.Time) live.NotifierView {
	v := live.NotifierView{Name: s.Name, Kind: s.Kind, Queued: s.Queued, Sent: s.Sent, Tests: s.Tests, Failed: s.Failed + s.Dropped, Urgent: s.Urgent, Problem: s.Problem, Tried: s.Tried}
	if !s.FailingSince.IsZero() {
		v.Failing = now.Sub(s.FailingSince)
	}
	return v
}

// testBound is how long a test may take, an attempt that is under way included.
const testBound = 75 * time.Second

// TestNotifier tries one notifier.
func (a *App) TestNotifier(ctx context.Context, name string) (dashboards.Result, error) {
	ctx, cancel := context.WithTimeout(ctx, testBound)
	defer cancel()
	took, err := a.dispatcher.Test(ctx, name, notify.TestMessage(a.o.Config.Bench, a.clock.Now(), a.links()))
	a.refreshOnce() // what came of it is on the screens by the time of the answer
	switch {
	case errors.Is(err, notify.ErrUnknown):
		var names []string
		for _, s := range a.dispatcher.Stats() {
			names = append(names, s.Name)
		}
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("there is no notifier %q", name), Hint: "notifiers: " + strings.Join(names, ", ")}
	case err != nil:
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: fmt.Sprintf("the test to %s did not arrive, after %s", name, roughly(took)), Err: err}
	}
	return dashboards.Result{Say: fmt.Sprintf("%s took the test after %s.", name, roughly(took))}, nil
}

func roughly(d time.Duration) time.Duration {
	if d > time.Second {
		return d.Round(100 * time.Millisecond)
	}
	return d.Round(100 * time.Microsecond)
}
