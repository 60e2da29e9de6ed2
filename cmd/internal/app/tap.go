package app

import (
	"context"
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
	"steadyrail/dashboards"
)

// A meter that cannot say who it is, behind an adapter that cannot, is known by
// its socket alone, and anything may be plugged in there. So after each
// connection a person touches a rail with it. If the reading that comes under
// its name goes from nothing to what that rail has, the name is right.

const (
	tapTime  = 30 * time.Second // of the bench
	tapLow   = 0.6              // of nominal: above it a rail counts as fed
	tapHigh  = 1.4              // of nominal
	tapAway  = 0.3              // of nominal: below it the probe was elsewhere
	tapTwice = 2                // readings in a row: one may be the way between two ranges
	together = 10.0             // ohm: probes put together
	apart    = 1000.0           // ohm: probes that touch nothing
)

// tap asks for a touch and waits for it. The meter then stands where it touches.
func (a *App) tap(ctx context.Context, j *openJob, act capture.Act) (dashboards.Result, error) {
	name := capture.ChannelID(act.Subject).Instrument()
	state, ok := a.pollState(name)
	switch {
	case !ok:
		return dashboards.Result{}, a.noInstrument("tap", name)
	case !state.Up:
		return dashboards.Result{}, problem("tap "+name, fmt.Errorf("%w: %s", poll.ErrDown, state.Problem))
	case !state.Doubtful:
		return dashboards.Result{Job: j.id, At: a.clock.Now(), Say: fmt.Sprintf("%s is known: %s. There is nothing to confirm.", name, state.Identity)}, nil
	}
	ch, err := a.tapChannel(act.Subject)
	if err != nil {
		return dashboards.Result{}, err
	}
	w, err := a.newTouch(j, ch, act.Text)
	if err != nil {
		return dashboards.Result{}, err
	}
	if !a.beginTap(name) {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: "tap: " + name + " is being waited for already"}
	}
	defer a.endTap(name)
	w.show = func(words string) { a.showAsk(state, words) }
	w.show(w.ask())
	defer a.showAgain(name)
	if err := a.awaitTouch(ctx, w); err != nil {
		return dashboards.Result{}, err
	}
	return a.confirm(ctx, j, act, state, w)
}

// tapChannel returns the channel that a subject means: it, or of a meter the
// one that it measures now.
func (a *App) tapChannel(subject string) (capture.ChannelInfo, error) {
	id := capture.ChannelID(subject)
	if ch, ok := a.channel(id); ok {
		return ch, nil
	}
	for _, s := range a.loopOf[id.Instrument()].Stats() {
		ch, ok := a.channel(s.Channel)
		if ok && s.Selected && s.Channel.Instrument() == id.Instrument() && (ch.Quantity == capture.DCVoltage || ch.Quantity == capture.Resistance) {
			return ch, nil
		}
	}
	return capture.ChannelInfo{}, &dashboards.Error{
		Kind: dashboards.Refused, Detail: fmt.Sprintf("tap: %s measures neither volts nor ohms now, and nothing else can be touched", id.Instrument()),
		Hint: "give it an adapter with a serial number of its own, or enter its readings by hand",
	}
}

// awaitTouch waits for the touch.
func (a *App) awaitTouch(ctx context.Context, w *touch) error {
	detach := a.bus.Attach("", w)
	defer detach()
	late, stop := a.clock.After(tapTime)
	defer stop()
	select {
	case <-w.done:
		return nil
	case <-late:
		return w.missed()
	case <-ctx.Done():
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: "tap: given up before it was touched", Err: ctx.Err()}
	case <-a.stopping:
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: "tap: the daemon is stopping"}
	}
}

// confirm records what was seen. What is measured before the doubt is lifted
// still belongs to no rail.
func (a *App) confirm(ctx context.Context, j *openJob, act capture.Act, state pollState, w *touch) (dashboards.Result, error) {
	what := "tap " + state.Name
	done := capture.Act{Verb: capture.ActTap, Subject: state.Name, Text: w.rail.Name, By: act.By}
	items := []capture.Item{done}
	say := fmt.Sprintf("%s is confirmed.", state.Name)
	if w.rail.Name != "" {
		p := w.placement
		p.By = act.By
		p.Why = a.holdRange(ctx, j, p)
		items = []capture.Item{p, done}
		say = fmt.Sprintf("%s is confirmed. %s", state.Name, placed(p))
	}
	// The loop alone knows whether the meter that was touched is still the one
	// that is connected.
	var ats []capture.Instant
	err := a.loopOf[state.Name].Confirm(ctx, state.Name, state.Since, func() (err error) {
		ats, err = a.bus.PostAll(j.id, items...)
		return err
	})
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: j.id, At: ats[0], Say: say}, nil
}

func (a *App) beginTap(name string) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.tapping[name] {
		return false
	}
	a.tapping[name] = true
	return true
}

func (a *App) endTap(name string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.tapping, name)
}
