package app

import (
	"context"
	"errors"
	"sync"
	"time"

	"steadyrail/rules/notify"
)

// telling is the dispatcher that is in force. Another one may take its place while
// alarms come: none is told twice or to nobody. The zero value tells nobody. It is
// safe for concurrent use.
type telling struct {
	mu      sync.Mutex
	now     *notify.Dispatcher
	leaving sync.WaitGroup // those that deliver what they still have
	end     context.CancelFunc
	ctx     context.Context
	errs    []error
}

// swap puts a dispatcher in force. What the one before it has is delivered by it.
func (t *telling) swap(next *notify.Dispatcher) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.ctx == nil {
		t.ctx, t.end = context.WithCancel(context.Background())
	}
	was := t.now
	t.now = next
	if was == nil {
		return
	}
	ctx := t.ctx
	t.leaving.Go(func() {
		err := was.Close(ctx)
		t.mu.Lock()
		defer t.mu.Unlock()
		t.errs = append(t.errs, err)
	})
}

func (t *telling) force() *notify.Dispatcher {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.now
}

// Send queues a message with the dispatcher that is in force. It does not wait.
func (t *telling) Send(m notify.Message) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.now != nil {
		t.now.Send(m)
	}
}

// Test is [notify.Dispatcher.Test].
func (t *telling) Test(ctx context.Context, name string, m notify.Message) (time.Duration, error) {
	return t.force().Test(ctx, name, m)
}

// Stats is [notify.Dispatcher.Stats].
func (t *telling) Stats() []notify.Stat { return t.force().Stats() }

// Close ends the dispatcher in force and those that still deliver.
func (t *telling) Close(ctx context.Context) error {
	err := t.force().Close(ctx)
	late := context.AfterFunc(ctx, t.end)
	defer late()
	t.leaving.Wait()
	t.end()
	t.mu.Lock()
	defer t.mu.Unlock()
	return errors.Join(append(t.errs, err)...)
}
