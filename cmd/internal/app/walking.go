package app

import (
	"context"
	"errors"
	"reflect"
	"slices"
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

	mu      sync.Mutex
	queue   []capture.Record
	view    dashboards.WalkView
	changed chan struct{} // closed with the next change
	over    bool
	said    map[string]string // by rail: what the rules said when its figure was filed
}

// call is a press: 0 ends the walk. done gets the sentence about it.
type call struct {
	press walk.Press
	done  chan dashboards.Result
}

func newWalking(a *App, j *openJob, s walk.Setup, by string) *walking {
	w := &walking{app: a, job: j, by: by, setup: s, kick: make(chan struct{}, 1), calls: make(chan call), ended: make(chan struct{}), changed: make(chan struct{}), said: map[string]string{}}
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
		v.Rows[i].Verdict = w.said[v.Rows[i].Rail]
	}
	return v, w.changed
}

// Consume keeps what concerns the walk. It is called under the bus's lock.
func (w *walking) Consume(rec capture.Record) {
	switch it := rec.Item.(type) {
	case capture.Reading:
		if it.Channel.Instrument() != w.meter() {
			return
		}
	case capture.Placement:
		if it.Channel.Instrument() != w.meter() {
			return
		}
	case capture.Act, capture.Gap, capture.Tick:
	default:
		return
	}
	w.mu.Lock()
	w.queue = append(w.queue, rec)
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
			for _, rec := range w.take() {
				w.carry(w.m.Consume(rec))
				if closed(rec, w.job.id) {
					w.carry(w.m.Stop(rec.At, "the job was closed"))
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

func (w *walking) take() []capture.Record {
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

// carry does what the machine asks for, in order.
func (w *walking) carry(list []walk.Do) {
	for _, d := range list {
		if err := w.one(d); err != nil {
			w.app.log.Warn().Err(err).Str("job", w.job.id).Str("rail", d.Step.Rail).Msg("walk")
			w.refused(d, err)
		}
	}
}

// refused tells the machine that something could not be done.
func (w *walking) refused(d walk.Do, err error) {
	at := w.app.clock.Now()
	why := err.Error()
	var p *dashboards.Error
	if errors.As(err, &p) {
		why = p.Detail
	}
	switch d.Kind {
	case walk.Place:
		w.carry(w.m.Refused(at, why))
	case walk.Select:
		w.carry(w.m.Stop(at, why))
	}
}

func (w *walking) one(d walk.Do) error {
	ch := w.channel(d.Step)
	post := func(items ...capture.Item) error {
		_, err := w.app.bus.PostAll(w.job.id, items...)
		return err
	}
	switch d.Kind {
	case walk.Select:
		return w.app.loopOf[w.meter()].Select(w.ctx, ch)
	case walk.Range:
		return w.app.loopOf[w.meter()].FixRange(w.ctx, ch, d.Value)
	case walk.Place:
		return w.place(ch, d)
	case walk.Off:
		w.keepVerdict(d.Step)
		return post(capture.Placement{Channel: ch, By: w.by})
	case walk.Withdraw:
		items := []capture.Item{capture.Placement{Channel: ch, Corrects: d.At, By: w.by, Why: d.Why}}
		if _, since, _ := w.job.book.Placements().Now(ch); since == d.At {
			items = append(items, capture.Placement{Channel: ch, By: w.by})
		}
		return post(items...)
	case walk.Skip:
		return post(capture.Act{Verb: capture.ActWalk, Subject: d.Step.Rail, Text: d.Step.In() + ": " + d.Why, By: w.by})
	case walk.End:
		w.mu.Lock()
		w.over = true
		w.mu.Unlock()
	}
	return nil
}

// keepVerdict keeps what the rules say of a rail while the probe is on it: of its
// resistance without power, of its voltage under power.
func (w *walking) keepVerdict(s walk.Step) {
	kinds := []string{"missing", "band"}
	if s.Quantity == capture.Resistance {
		kinds = []string{"short"}
	} else if !w.setup.Live {
		return
	}
	w.mu.Lock()
	if w.said[s.Rail] == "" {
		w.said[s.Rail] = "not judged: the probe left before the rule was sure"
	}
	w.mu.Unlock()
	j, _ := w.app.Snapshot().Job(w.job.id)
	for _, r := range j.Rails {
		if r.Rail.Name != s.Rail || s.Reversed {
			continue
		}
		for _, v := range r.Verdicts {
			if slices.Contains(kinds, v.Kind) && v.Outcome != capture.NoData {
				w.mu.Lock()
				w.said[s.Rail] = v.Say
				w.mu.Unlock()
			}
		}
	}
}

func (w *walking) channel(s walk.Step) capture.ChannelID {
	if s.Quantity == capture.Resistance {
		return w.setup.Ohms
	}
	return w.setup.Volts
}

// place puts the channel where the probe was seen. A reversed reading stands on
// a point of its own: what is read backwards through semiconductors is no
// resistance of the rail.
func (w *walking) place(ch capture.ChannelID, d walk.Do) error {
	rail, _ := w.job.book.Sheet().Rail(d.Step.Rail)
	p := capture.Placement{Channel: ch, Rail: rail.Name, Point: rail.Point, Return: rail.Return, By: w.by, Why: d.Why}
	if err := w.app.mayStandWalking(w.job, p); err != nil {
		return err
	}
	if d.Step.Reversed {
		p.Rail, p.Point = "", d.Step.Said()
	} else if err := w.app.mayMeasure(w.job, p); err != nil {
		return err
	}
	at, err := w.app.bus.Post(w.job.id, p)
	if err == nil {
		w.m.Placed(at)
	}
	return err
}

// finish sets the meter free: it ranges by itself, in volts, on nothing.
func (w *walking) finish() {
	ctx, cancel := context.WithTimeout(context.Background(), stopTime)
	defer cancel()
	loop := w.app.loopOf[w.meter()]
	for ch, top := range map[capture.ChannelID]float64{w.setup.Volts: w.setup.TopVolts, w.setup.Ohms: w.setup.TopOhms} {
		if top != 0 {
			_ = loop.FixRange(ctx, ch, 0) // a meter that is away is set when it is back
		}
	}
	_ = loop.Select(ctx, w.setup.Volts)
	text := capture.WalkEnd
	if why := w.m.View().Note; why != "" {
		text += ": " + why
	}
	// A job that was closed takes no more records, and needs none.
	_, _ = w.app.bus.Post(w.job.id, capture.Act{Verb: capture.ActWalk, Subject: w.meter(), Text: text, By: w.by})
	w.publish()
	close(w.ended)
}
