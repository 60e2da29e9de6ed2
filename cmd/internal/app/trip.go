package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/rules"
)

// A trip that is not confirmed is tried so often, with a pause between: after
// that a person has to do it, and is told so.
const (
	tripTries = 5
	tripPause = 250 * time.Millisecond
	// tripWait is how long an attempt may wait for the link: an attempt to connect
	// may hold it for longer.
	tripWait = time.Second
)

// switcher carries out what nobody stands beside: trips, the end of an
// injection, and the reading back after a link was lost. It never switches
// anything on. The zero value takes nothing yet.
type switcher struct {
	mu     sync.Mutex
	open   bool
	ctx    context.Context
	cancel context.CancelFunc
	work   sync.WaitGroup
	busy   map[string]bool // outputs that a trip is switching off now
}

// begin lets work in; the result ends all of it and waits.
func (s *switcher) begin() func(context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open, s.busy = true, map[string]bool{}
	s.ctx, s.cancel = context.WithCancel(context.Background())
	return s.end
}

func (s *switcher) end(ctx context.Context) error {
	s.mu.Lock()
	s.open = false
	s.cancel()
	s.mu.Unlock()
	done := make(chan struct{})
	go func() { s.work.Wait(); close(done) }()
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("what was being switched: %w", ctx.Err())
	}
}

// do runs f on a goroutine of its own, unless the end has begun.
func (s *switcher) do(f func(context.Context)) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.open {
		return false
	}
	ctx := s.ctx
	s.work.Go(func() { f(ctx) })
	return true
}

// claim reports whether nobody else is switching the output off, and that now
// somebody is.
func (s *switcher) claim(output string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.busy[output] {
		return false
	}
	s.busy[output] = true
	return true
}

// claimed reports whether a trip is switching the output off now.
func (s *switcher) claimed(output string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.busy[output]
}

func (s *switcher) free(output string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.busy, output)
}

// trip begins what an alarm asks for. It is called under the bus's lock and only
// starts the work.
func (a *App) trip(j *openJob, t rules.Trip) {
	a.switcher.do(func(ctx context.Context) {
		switch {
		case !t.Armed:
			a.say(j, t.Rail, fmt.Sprintf("the trip through %s did not act: its protection was not programmed and read back in this job", t.Output))
		case a.switcher.claim(t.Output):
			defer a.switcher.free(t.Output)
			a.tripNow(ctx, j, t)
		}
	})
}

// say notes something in the trip's name.
func (a *App) say(j *openJob, rail, text string) {
	a.post(j, capture.Act{Verb: capture.ActNote, Subject: rail, Text: text, By: capture.ByTrip})
}

// post records an act of nobody's. A job that was closed meanwhile takes none.
func (a *App) post(j *openJob, act capture.Act) {
	if _, err := a.bus.Post(j.id, act); err != nil {
		a.log.Warn().Err(err).Str("job", j.id).Str("act", string(act.Verb)).Msg("record what was switched")
	}
}

// tripNow switches an output off: announced, sent before everything else that
// waits for the link, read back, recorded with its delay. What nothing confirms
// in the end is recorded as such, and the engine makes the urgent alarm of it.
func (a *App) tripNow(ctx context.Context, j *openJob, t rules.Trip) {
	act := capture.Act{Verb: capture.ActOutput, Subject: t.Output, Text: capture.SwitchingOff, By: capture.ByTrip}
	a.mark(j, act)
	a.permits.void(t.Output)
	act.Text = "off"
	if err := a.insistOff(ctx, act); err != nil {
		a.log.Error().Err(err).Str("job", j.id).Str("output", t.Output).Msg("the trip is not confirmed")
		act.Text = capture.NotConfirmed
		a.mark(j, act)
		return
	}
	delay := a.since(t.At)
	act.Value = delay.Seconds()
	a.metrics.Tripped(delay)
	a.mark(j, act)
}

// insistOff switches an output off, again and again up to tripTries times, until
// it reads back as off.
func (a *App) insistOff(ctx context.Context, act capture.Act) error {
	loop := a.loopOf[act.Instrument()]
	if loop == nil || !slices.Contains(a.info(act.Instrument()).Acts, string(capture.ActOutput)) {
		return fmt.Errorf("%s: it may not be switched", act.Subject)
	}
	return insist(ctx, tripTries, tripPause, func(ctx context.Context) error {
		_, err := loop.DoFirst(ctx, act.Instrument(), act)
		return err
	})
}

// insist tries something so often, with a pause between, in wall time: the far
// end's relay does not know of a simulated clock. It returns the last error. An
// end of the program ends the pauses, not the attempts: each is short.
func insist(ctx context.Context, tries int, pause time.Duration, try func(context.Context) error) error {
	var err error
	for i := range tries {
		if i > 0 {
			t := time.NewTimer(pause)
			select {
			case <-t.C:
			case <-ctx.Done():
				t.Stop()
			}
		}
		one, done := context.WithTimeout(context.WithoutCancel(ctx), tripWait)
		err = try(one)
		if done(); err == nil {
			return nil
		}
	}
	return errors.Join(fmt.Errorf("%d times without being confirmed", tries), err)
}

// since is how long ago something was, in wall time: what a simulated clock
// makes of it is no delay of ours.
func (a *App) since(at capture.Instant) time.Duration {
	return time.Duration(float64(a.clock.Now().Sub(at)) / a.o.Speed())
}

func (a *App) startSwitcher(context.Context) (func(context.Context) error, error) {
	end := a.switcher.begin()
	a.leftOver()
	for _, name := range a.order { // those that were connected before work was let in
		if s, ok := a.pollState(name); ok && s.Up {
			a.readBackAll(name)
		}
	}
	return end, nil
}

// openJobs lists the open jobs in the order of opening.
func (a *App) openJobs() []*openJob {
	a.mu.Lock()
	defer a.mu.Unlock()
	var out []*openJob
	for _, id := range a.hand {
		out = append(out, a.jobs[id])
	}
	return out
}
