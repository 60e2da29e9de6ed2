package app

import (
	"fmt"
	"sync"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

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
