package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

// walks are the walks that are under way, and the last of each job.
type walks struct {
	mu      sync.Mutex
	byJob   map[string]*walking
	running sync.WaitGroup
	stopped bool
	speak   func(string) // on the daemon's machine; nil: nowhere
}

// walkPatience is how long an answer waits for something new, in wall time.
const walkPatience = 10 * time.Second

// startWalks makes walks possible; its end waits for those under way.
func (a *App) startWalks(context.Context) (func(context.Context) error, error) {
	endVoice := a.startVoice()
	endPedal := a.startPedal()
	return func(ctx context.Context) error {
		endPedal()
		a.walks.mu.Lock()
		a.walks.stopped = true
		for _, w := range a.walks.byJob {
			w.cancel()
		}
		a.walks.mu.Unlock()
		done := make(chan struct{})
		go func() { defer close(done); a.walks.running.Wait(); endVoice() }()
		select {
		case <-done:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}, nil
}

// walkOf returns the walk of a job, nil when there was none.
func (a *App) walkOf(id string) *walking {
	a.walks.mu.Lock()
	defer a.walks.mu.Unlock()
	return a.walks.byJob[id]
}

// Walk tells where the walk of a job stands.
func (a *App) Walk(ctx context.Context, id string, after uint64) (dashboards.WalkView, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.WalkView{}, err
	}
	w := a.walkOf(j.id)
	if w == nil {
		return dashboards.WalkView{View: walk.View{Job: j.id, Rows: []walk.Row{}}}, nil
	}
	late := time.NewTimer(walkPatience)
	defer late.Stop()
	for {
		v, changed := w.seen()
		if v.Seq > after || after == 0 {
			return v, nil
		}
		select {
		case <-changed:
		case <-late.C:
			after = 0
		case <-a.stopping:
			after = 0
		case <-ctx.Done():
			return v, ctx.Err()
		}
	}
}

// presses are the acts that are one press of the pedal.
var presses = map[string]walk.Press{"press": walk.Short, "skip": walk.Long, "again": walk.Back}

// DoWalk begins a walk, ends it, or presses its pedal.
func (a *App) DoWalk(ctx context.Context, id string, act dashboards.WalkAct) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	if act.Do == "begin" {
		return a.beginWalk(ctx, j, act)
	}
	press, isPress := presses[act.Do]
	if !isPress && act.Do != "end" {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("walk: %q is nothing that it does", act.Do), Hint: "begin, press, skip, again or end"}
	}
	w := a.walkOf(j.id)
	if w == nil || !w.active() {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Conflict, Detail: "walk: none is under way in job " + j.id, Hint: "begin one: steadyrail walk " + j.id}
	}
	return w.ask(ctx, press)
}

// beginWalk starts the walk of a job with a meter that nothing else uses.
func (a *App) beginWalk(ctx context.Context, j *openJob, act dashboards.WalkAct) (dashboards.Result, error) {
	setup, err := a.walkSetup(j, act)
	if err != nil {
		return dashboards.Result{}, err
	}
	by := act.By
	if by == "" {
		by = j.book.Sheet().Technician
	}
	w := newWalking(a, j, setup, by)
	if err := a.admit(w); err != nil {
		return dashboards.Result{}, err
	}
	began := capture.Act{Verb: capture.ActWalk, Subject: setup.Volts.Instrument(), Text: capture.WalkBegin, By: by}
	items := []capture.Item{began, capture.Placement{Channel: setup.Volts, By: by}}
	if w.reversed = setup.Ohms != "" && j.trail.Reversed(setup.Ohms); w.reversed {
		items = append(items, w.polarity(false)) // the walk says itself when the leads are exchanged
		w.reversed = false
	}
	if setup.Ohms != "" {
		items = append(items, capture.Placement{Channel: setup.Ohms, By: by})
	}
	ats, err := a.bus.PostAll(j.id, items...)
	if err != nil {
		a.dismiss(w)
		return dashboards.Result{}, problem("walk with "+setup.Volts.Instrument(), err)
	}
	w.begin(ats[0])
	return dashboards.Result{Job: j.id, At: ats[0], Say: job.Entry(began) + a.slowToFall(setup)}, nil
}

// slowToFall warns of an input that holds its volts: a lift is seen late.
func (a *App) slowToFall(s walk.Setup) string {
	ch, _ := a.channel(s.Volts)
	if ch.InputOhms > 0 && ch.InputOhms <= 1e9 {
		return ""
	}
	return " Its input resistance is not stated, or above 1 GΩ: a lifted probe holds its volts for seconds, so keep it lifted until the word is touch."
}

// admit takes a walk unless one is under way with its job or its meter.
func (a *App) admit(w *walking) error {
	a.walks.mu.Lock()
	defer a.walks.mu.Unlock()
	if a.walks.stopped {
		return &dashboards.Error{Kind: dashboards.Unavailable, Detail: "walk: the daemon is stopping"}
	}
	for _, o := range a.walks.byJob {
		if o.active() && (o.job.id == w.job.id || o.meter() == w.meter()) {
			return &dashboards.Error{Kind: dashboards.Conflict, Detail: fmt.Sprintf("walk: one is under way with %s in job %s", o.meter(), o.job.id), Hint: "end it first: steadyrail walk --end " + o.job.id}
		}
	}
	if a.walks.byJob == nil {
		a.walks.byJob = map[string]*walking{}
	}
	a.walks.byJob[w.job.id] = w
	a.walks.running.Add(1)
	return nil
}

// dismiss gives a walk up that did not begin.
func (a *App) dismiss(w *walking) {
	a.walks.mu.Lock()
	defer a.walks.mu.Unlock()
	delete(a.walks.byJob, w.job.id)
	a.walks.running.Done()
}
