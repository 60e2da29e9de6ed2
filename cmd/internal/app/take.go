package app

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

const (
	takeCount = 3 // readings of a take, unless the act says how many
	takeMost  = 100
	// takeSlack is how long a take may last beyond its readings, in bench time.
	takeSlack = 10 * time.Second
	// liveOhms is the voltage from which a resistance is no measurement: the
	// meter's own test current makes tenths of a volt at most.
	liveOhms = 0.05
)

// take has a meter measure another of its functions on a rail for a moment, and
// go back to what it watches. Both ways nothing is filed before the input has
// settled.
func (a *App) take(ctx context.Context, j *openJob, act capture.Act) (dashboards.Result, error) {
	p := capture.Placement{Channel: capture.ChannelID(act.Subject), Rail: act.Text, By: act.By, Why: "taken"}
	what := fmt.Sprintf("take %s on %s", p.Channel, p.Rail)
	ch, err := a.mayTake(j, &p, what)
	if err != nil {
		return dashboards.Result{}, err
	}
	before, watched := a.sibling(j, ch)
	n := int(act.Value)
	if n <= 0 {
		n = takeCount
	}
	n = min(n, takeMost)
	loop := a.loopOf[p.Channel.Instrument()]
	if err := loop.Select(ctx, p.Channel); err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	some := &some{job: j.id, channel: ch.ID, left: n, done: make(chan struct{})}
	detach := a.bus.Attach("", some)
	ats, err := a.bus.PostAll(j.id, p, act)
	if err == nil {
		err = a.awaitSome(ctx, some, ch.Settle+time.Duration(4*n)*ch.Every+takeSlack)
	}
	detach()
	if e := a.goBack(ctx, j, p, before, watched); err == nil {
		err = e
	}
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: j.id, At: ats[0], Say: some.say(p, watched)}, nil
}

// mayTake checks everything that can be checked before the meter is switched.
func (a *App) mayTake(j *openJob, p *capture.Placement, what string) (capture.ChannelInfo, error) {
	ch, ok := a.channel(p.Channel)
	if !ok {
		return ch, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": there is no such channel", Hint: "channels: " + a.channelNames()}
	}
	rail, err := j.book.Sheet().FindRail(p.Rail)
	if err != nil {
		return ch, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": " + err.Error()}
	}
	p.Rail, p.Point = rail.Name, rail.Point
	if ch.Group == "" {
		return ch, &dashboards.Error{Kind: dashboards.Refused, Detail: what + ": it has an input of its own, which nothing else uses", Hint: fmt.Sprintf("put it there: steadyrail place %s %q", ch.ID, p.Rail)}
	}
	if _, watched := a.sibling(j, ch); watched.Rail == p.Rail {
		p.Point, p.Return, p.Hold = watched.Point, watched.Return, watched.Hold
	}
	for _, check := range []func() error{
		func() error { _, err := a.mayStand(j, *p); return err },
		func() error { return a.mayMeasure(j, *p) },
		func() error { return a.mayCount(*p) },
		func() error { return a.mayOhm(j, ch, *p) },
	} {
		if err := check(); err != nil {
			return ch, err
		}
	}
	return ch, nil
}

// mayOhm refuses a resistance where there is a voltage: it would be the voltage
// that is measured, and the meter may suffer.
func (a *App) mayOhm(j *openJob, ch capture.ChannelInfo, p capture.Placement) error {
	if ch.Quantity != capture.Resistance {
		return nil
	}
	refuse := func(why string) error {
		return &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("take %s on %s: %s, and a resistance under power is no measurement", p.Channel, p.Rail, why),
			Hint: "switch the set off, wait until its capacitors are empty, and enter the cold checks: steadyrail job stage \"cold checks\" --why \"…\"",
		}
	}
	if stage, _ := j.book.Stage(); stage.Live() {
		return refuse(fmt.Sprintf("the job is in %s", stage))
	}
	if v, ok := j.book.Newest(p.Rail, capture.DCVoltage); ok && v.Reading.HasValue() && math.Abs(v.Reading.Value) > liveOhms {
		return refuse("it has " + capture.Volt.Text(v.Reading.Value, v.Reading.Resolution))
	}
	return nil
}

// sibling returns the channel that the input measures now, and where it stands.
func (a *App) sibling(j *openJob, ch capture.ChannelInfo) (capture.ChannelID, capture.Placement) {
	for _, s := range a.loopOf[ch.ID.Instrument()].Stats() {
		o, ok := a.channel(s.Channel)
		if ok && s.Selected && s.Channel.Instrument() == ch.ID.Instrument() && o.Group == ch.Group {
			p, _, _ := j.book.Placements().Now(o.ID)
			return o.ID, p
		}
	}
	return ch.ID, capture.Placement{}
}

// goBack puts the input back to what it watched, whoever asked and is gone by
// now, unless somebody has put the meter elsewhere meanwhile.
func (a *App) goBack(ctx context.Context, j *openJob, p capture.Placement, before capture.ChannelID, watched capture.Placement) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if job, now, _ := a.bus.Where(p.Channel); job != j.id || now.Rail != p.Rail || now.Why != p.Why {
		return nil
	}
	if _, err := a.bus.Post(j.id, capture.Placement{Channel: p.Channel, By: p.By}); err != nil {
		return err
	}
	if before == p.Channel {
		return nil
	}
	if err := a.loopOf[before.Instrument()].Select(ctx, before); err != nil {
		return err
	}
	if watched.Rail == "" && watched.Point == "" {
		return nil
	}
	watched.Corrects = 0
	_, err := a.bus.Post(j.id, watched)
	return err
}

// some is a sink that waits for readings of a channel that were filed.
type some struct {
	job     string
	channel capture.ChannelID

	mu   sync.Mutex
	left int
	got  []capture.Reading
	done chan struct{}
}

// Consume counts readings that say something: a value, or open leads.
func (s *some) Consume(rec capture.Record) {
	r, ok := rec.Item.(capture.Reading)
	if !ok || r.Channel != s.channel || rec.Job != s.job || !r.HasValue() && !r.Flags.Has(capture.OverRange) {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.left == 0 {
		return
	}
	s.got = append(s.got, r)
	if s.left--; s.left == 0 {
		close(s.done)
	}
}

func (a *App) awaitSome(ctx context.Context, s *some, d time.Duration) error {
	late, stop := a.clock.After(d)
	defer stop()
	select {
	case <-s.done:
		return nil
	case <-late:
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: fmt.Sprintf("take %s: it gave no reading that counts in %.0f s", s.channel, d.Seconds())}
	case <-ctx.Done():
		return ctx.Err()
	case <-a.stopping:
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: "take: the daemon is stopping"}
	}
}

func (s *some) say(p, watched capture.Placement) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	last := s.got[len(s.got)-1]
	text := "over range"
	if last.HasValue() {
		text = last.Quantity.Unit().Text(last.Value, last.Resolution)
	}
	out := fmt.Sprintf("%s on %s: %s, the last of %d.", p.Channel, p.Rail, text, len(s.got))
	if watched.Rail != "" {
		out += fmt.Sprintf(" %s is on %s again.", watched.Channel, where(watched))
	}
	return out
}
