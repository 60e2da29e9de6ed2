package app

import (
	"context"
	"fmt"
	"sync"
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

// touch is the watch over one tap. It is a sink of the bench.
type touch struct {
	channel   capture.ChannelInfo
	rail      capture.Rail // zero: the probes are put together
	placement capture.Placement
	show      func(words string) // puts on the screens what the person is to do
	asked     capture.Instant    // what was measured before says nothing

	mu     sync.Mutex
	lifted bool // it was seen to be elsewhere
	there  int  // readings in a row that were there
	told   bool // the screens say that it is there already
	newest capture.Reading
	done   chan struct{}
}

func (a *App) newTouch(j *openJob, ch capture.ChannelInfo, railName string) (*touch, error) {
	w := &touch{channel: ch, asked: a.clock.Now(), done: make(chan struct{})}
	if ch.Quantity == capture.Resistance {
		return w, nil // no rail has a resistance that is known beforehand
	}
	var err error
	if w.rail, err = j.book.Sheet().FindRail(railName); err != nil {
		return nil, &dashboards.Error{Kind: dashboards.NotFound, Detail: "tap in job " + j.id, Err: err, Hint: fmt.Sprintf("say which one is touched: steadyrail tap %s 1", ch.ID.Instrument())}
	}
	w.placement = capture.Placement{Channel: ch.ID, Rail: w.rail.Name, Point: w.rail.Point}
	if p, _, _ := j.book.Placements().Now(ch.ID); p.Rail == w.rail.Name {
		w.placement = p // it was there before the link was lost, and goes on
		w.placement.Corrects = 0
	}
	if _, err := a.mayStand(j, w.placement); err != nil {
		return nil, err
	}
	return w, a.mayMeasure(j, w.placement)
}

// do is what is to be done once it is asked again.
func (w *touch) do() string {
	if w.rail.Name == "" {
		return "lift the probes, and put them together"
	}
	return "lift the probe, and touch " + w.rail.Name
}

// ask is what the person is asked to do.
func (w *touch) ask() string {
	if w.rail.Name == "" {
		return fmt.Sprintf("lift the probes of %s, then put them together", w.channel.ID.Instrument())
	}
	return w.again() + "; lift it first if it is there"
}

// Consume looks at what comes under the meter's name.
func (w *touch) Consume(rec capture.Record) {
	r, ok := rec.Item.(capture.Reading)
	if !ok || r.Channel != w.channel.ID || r.Measured.Add(-r.HalfWidth) < w.asked {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.newest = r
	away, there := w.where(r)
	switch {
	case away:
		w.lifted, w.there = true, 0
		w.tell(false)
	case r.Flags.Has(capture.Disconnected | capture.Mismatch):
		w.lifted, w.there = false, 0 // whoever comes back is to begin anew
	case there && w.lifted:
		w.there++
		if w.there == tapTwice {
			close(w.done)
		}
	case there:
		w.there = 0
		w.tell(true)
	default:
		w.there = 0
	}
}

// tell asks for the lift as soon as it is seen that the probe is there already, and
// for the touch again once it was lifted: nobody is to wait for what cannot come.
func (w *touch) tell(already bool) {
	if already == w.told {
		return
	}
	if w.told = already; !already {
		w.show(w.ask())
		return
	}
	w.show(fmt.Sprintf("%s reads %s already: lift it, then %s", w.channel.ID.Instrument(), w.reads(), w.again()))
}

// again is what is to be done after the lift.
func (w *touch) again() string {
	if w.rail.Name == "" {
		return "put the probes together"
	}
	return fmt.Sprintf("touch %s with %s now", w.rail.Name, w.channel.ID.Instrument())
}

// reads is what it showed last.
func (w *touch) reads() string {
	if !w.newest.HasValue() {
		return "nothing that counts"
	}
	return w.channel.Quantity.Unit().Text(w.newest.Value, w.newest.Resolution)
}

// where tells from a reading whether the probe is elsewhere or where it is to
// be. It may be neither.
func (w *touch) where(r capture.Reading) (away, there bool) {
	if w.rail.Name == "" {
		open := r.Flags.Has(capture.OverRange)
		return open || r.Good() && r.Value > apart, r.Good() && r.Value < together
	}
	part := r.Value / w.rail.Nominal
	return r.Good() && part < tapAway, r.Good() && part > tapLow && part < tapHigh
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

// missed tells why a touch was not seen.
func (w *touch) missed() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	name := w.channel.ID.Instrument()
	read := w.reads()
	e := &dashboards.Error{
		Kind: dashboards.Refused, Detail: fmt.Sprintf("tap: in %.0f s what %s reads did not follow; it reads %s", tapTime.Seconds(), name, read),
		Hint: "perhaps it is another meter that hangs there: look at its display; otherwise ask again, " + w.do(),
	}
	if !w.lifted {
		e.Detail = fmt.Sprintf("tap: %s read %s before it was to touch anything, and that does not count", name, read)
		e.Hint = "lift its probe, ask again, and touch then"
	}
	return e
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
