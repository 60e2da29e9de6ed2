package app

import (
	"context"
	"reflect"
	"sync"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

// walking carries one walk out. Its goroutine alone touches the machine; the bus
// hands it records, people hand it presses.
type walking struct {
	app    *App
	job    *openJob
	by     string
	setup  walk.Setup
	m      *walk.Machine
	kick   chan struct{}
	calls  chan call
	cancel context.CancelFunc
	ctx    context.Context
	ended  chan struct{} // closed with the walk

	reversed bool            // it was said that the leads are exchanged
	verdict  capture.Verdict // of the record that the machine takes now

	mu      sync.Mutex
	queue   []heard
	view    dashboards.WalkView
	changed chan struct{} // closed with the next change
	over    bool
	on      walk.Step                  // that the meter stands on a rail for; zero: none
	said    map[string]capture.Verdict // by rail: what the rules said when its figure was filed
}

// call is a press: 0 ends the walk. done gets the sentence about it.
type call struct {
	press walk.Press
	done  chan dashboards.Result
}

func newWalking(a *App, j *openJob, s walk.Setup, by string) *walking {
	w := &walking{app: a, job: j, by: by, setup: s, kick: make(chan struct{}, 1), calls: make(chan call), ended: make(chan struct{}), changed: make(chan struct{}), said: map[string]capture.Verdict{}}
	w.ctx, w.cancel = context.WithCancel(context.Background())
	return w
}

func (w *walking) meter() string { return w.setup.Volts.Instrument() }

func (w *walking) active() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.over
}

// seen returns the walk as it stands, and what is closed with the next change.
func (w *walking) seen() (dashboards.WalkView, <-chan struct{}) {
	w.mu.Lock()
	defer w.mu.Unlock()
	v := w.view
	v.Rows = append([]walk.Row{}, v.Rows...)
	for i := range v.Rows {
		v.Rows[i].Verdict = w.said[v.Rows[i].Rail].Say
	}
	return v, w.changed
}

// Consume keeps what concerns the walk. It is called under the bus's lock.
func (w *walking) Consume(rec capture.Record) {
	h := heard{Record: rec}
	switch it := rec.Item.(type) {
	case capture.Reading:
		if it.Channel.Instrument() != w.meter() {
			return
		}
		h = w.judged(rec)
	case capture.Placement:
		if it.Channel.Instrument() != w.meter() {
			return
		}
	case capture.Act, capture.Gap, capture.Tick:
	default:
		return
	}
	w.mu.Lock()
	w.queue = append(w.queue, h)
	w.mu.Unlock()
	select {
	case w.kick <- struct{}{}:
	default:
	}
}

// begin starts the walk's goroutine.
func (w *walking) begin(at capture.Instant) {
	var do []walk.Do
	w.m, do = walk.New(w.setup, at)
	w.publish()
	detach := w.app.bus.Attach("", w)
	go func() {
		defer w.app.walks.running.Done()
		defer w.letGo()
		defer w.cancel()
		defer detach()
		w.hurry(w.ctx)
		w.carry(do)
		w.run()
		w.finish()
	}()
}

// letGo forgets a walk whose job was closed meanwhile.
func (w *walking) letGo() {
	if _, err := w.app.job(w.job.id); err != nil {
		w.app.walks.forget(w.job.id)
	}
}

func (w *walking) run() {
	for w.active() {
		select {
		case <-w.kick:
			for _, h := range w.take() {
				w.verdict = h.verdict
				w.m.Unsure(h.unsure())
				w.carry(w.m.Consume(h.Record))
				if closed(h.Record, w.job.id) {
					w.carry(w.m.Stop(h.At, "the job was closed"))
				}
			}
		case c := <-w.calls:
			w.press(c)
		case <-w.ctx.Done():
			w.carry(w.m.Stop(w.app.clock.Now(), "the daemon is stopping"))
		}
		w.publish()
	}
}

func closed(rec capture.Record, job string) bool {
	act, ok := rec.Item.(capture.Act)
	return ok && act.Verb == capture.ActClose && rec.Job == job
}

func (w *walking) take() []heard {
	w.mu.Lock()
	defer w.mu.Unlock()
	list := w.queue
	w.queue = nil
	return list
}

// press carries a press out and says what came of it.
func (w *walking) press(c call) {
	at := w.app.clock.Now()
	if c.press == 0 {
		w.carry(w.m.Stop(at, "ended by hand"))
	} else {
		w.carry(w.m.Press(at, c.press))
	}
	v := w.m.View()
	say := "The walk: " + v.Word + "."
	if v.Rail != "" {
		say = v.Rail + " in " + v.In + ": " + v.Word + "."
	}
	c.done <- dashboards.Result{Job: w.job.id, At: at, Say: say}
}

// ask hands a press to the walk and waits until it was taken.
func (w *walking) ask(ctx context.Context, p walk.Press) (dashboards.Result, error) {
	c := call{p, make(chan dashboards.Result, 1)}
	select {
	case w.calls <- c:
		return <-c.done, nil
	case <-w.ended:
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: "walk: it is over"}
	case <-ctx.Done():
		return dashboards.Result{}, ctx.Err()
	}
}

// publish shows the walk as it stands, when something is new.
func (w *walking) publish() {
	v := w.m.View()
	if v.Rail != "" {
		v.Cautions = w.app.cautionsOf(w.job, w.setup.Volts, w.m.Asked().Rail)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.view.Seq > 0 && reflect.DeepEqual(v, w.view.View) {
		return
	}
	if said := v.Voice; said.Says != w.view.Voice.Says && w.app.walks.speak != nil {
		w.app.walks.speak(said.Say)
	}
	w.view = dashboards.WalkView{Seq: w.view.Seq + 1, View: v}
	close(w.changed)
	w.changed = make(chan struct{})
}

// finish sets the meter free: it ranges by itself, in volts, on nothing.
func (w *walking) finish() {
	ctx, cancel := context.WithTimeout(context.Background(), stopTime)
	defer cancel()
	loop := w.app.loopOf[w.meter()]
	w.calm(ctx)
	for ch, top := range map[capture.ChannelID]float64{w.setup.Volts: w.setup.TopVolts, w.setup.Ohms: w.setup.TopOhms} {
		if top != 0 {
			_ = loop.FixRange(ctx, ch, 0) // a meter that is away is set when it is back
		}
	}
	_ = loop.Select(ctx, w.leaves())
	text := capture.WalkEnd
	if why := w.m.View().Note; why != "" {
		text += ": " + why
	}
	// A job that was closed takes no more records, and needs none.
	_, _ = w.app.bus.PostAll(w.job.id, append(w.turned(walk.Step{Quantity: capture.Resistance}), capture.Act{Verb: capture.ActWalk, Subject: w.meter(), Text: text, By: w.by})...)
	w.publish()
	close(w.ended)
}
