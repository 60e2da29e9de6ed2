package app

import (
	"context"
	"sync"
	"time"
)

// planEvery is how often the plans are looked at, in wall time.
const planEvery = 250 * time.Millisecond

// startPlans runs what soaks want: the steps of their plans, and a computer that
// stays awake. Each open job has an owner of its plan, so that an instrument that
// does not answer keeps the plans of other jobs from nothing.
func (a *App) startPlans(context.Context) (func(context.Context) error, error) {
	return background(func(ctx context.Context) error {
		defer a.vigil.end()
		var owners sync.WaitGroup
		defer owners.Wait()
		eachTime(ctx, func() {
			for _, j := range a.openJobs() {
				j.owner.begin(ctx, &owners, func(ctx context.Context) {
					for a.planTick(ctx, j) {
					}
				})
			}
			a.keepAwake()
		})
		return nil
	}), nil
}

// eachTime looks at once and then every [planEvery], until ctx is done.
func eachTime(ctx context.Context, look func()) {
	t := time.NewTicker(planEvery)
	defer t.Stop()
	for ctx.Err() == nil {
		look()
		select {
		case <-t.C:
		case <-ctx.Done():
		}
	}
}

// planOwner is who looks after the plan of one job: at most one goroutine. The zero
// value has none and may have one. It is safe for concurrent use.
type planOwner struct {
	mu     sync.Mutex
	holds  int // who wants that there is none
	cancel context.CancelFunc
	ended  chan struct{} // closed with the goroutine; nil: there was none yet
}

// begin has the plan looked at from now on, unless it is already or must not be.
func (o *planOwner) begin(ctx context.Context, running *sync.WaitGroup, look func(context.Context)) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.holds > 0 || o.ended != nil {
		return
	}
	ctx, o.cancel = context.WithCancel(ctx)
	ended := make(chan struct{})
	o.ended = ended
	running.Go(func() {
		defer close(ended)
		eachTime(ctx, func() { look(ctx) })
	})
}

// hold ends the owner and waits for that; there is none before all who held it let
// it go on. A step that has not reached its instrument yet is given up.
func (o *planOwner) hold() {
	o.mu.Lock()
	o.holds++
	ended := o.ended
	if ended != nil {
		o.cancel()
	}
	o.mu.Unlock() // who begins the others' plans must not wait, too
	if ended != nil {
		<-ended
	}
}

// goOn takes one hold back; behind the last there may be an owner again.
func (o *planOwner) goOn() {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.holds--; o.holds == 0 {
		o.ended = nil
	}
}
