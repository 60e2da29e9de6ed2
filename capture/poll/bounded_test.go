package poll_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/poll"
)

// patient notes how long each exchange may last, and holds every fiftieth to
// its end.
type patient struct {
	*fake
	mu    sync.Mutex
	left  []time.Duration
	lasts []time.Duration // of those that were held
}

func (p *patient) Measure(ctx context.Context, ch capture.ChannelID) (capture.Reading, error) {
	due, _ := ctx.Deadline()
	p.mu.Lock()
	p.left = append(p.left, time.Until(due))
	hold := len(p.left)%50 == 0
	p.mu.Unlock()
	if !hold {
		return p.fake.Measure(ctx, ch)
	}
	begun := time.Now()
	<-ctx.Done()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.lasts = append(p.lasts, time.Since(begun))
	return capture.Reading{}, ctx.Err()
}

// Exchanges that share a deadline never get more than it, hardly less, and
// none gets one that has passed.
func TestEveryExchangeHasItsDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const deadline = 250 * time.Millisecond
		p := &patient{fake: meter("dmm", time.Millisecond)}
		p.fake.takes = time.Millisecond
		clock := capture.NewWallClock()
		l := poll.New("tcp:127.0.0.1:5025", []poll.Instrument{p}, clock, &sink{clock: clock}, poll.Options{Deadline: deadline})
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() {
			if err := l.Run(ctx); err != nil {
				t.Error(err)
			}
		})
		time.Sleep(10 * time.Second)
		cancel()
		wg.Wait()
		whole := 0
		for i, d := range p.left {
			if d > deadline || d < deadline*9/10 {
				t.Fatalf("exchange %d of %d may last %s of %s", i+1, len(p.left), d, deadline)
			}
			if d == deadline {
				whole++
			}
		}
		if len(p.lasts) < 10 || whole < len(p.lasts) || whole > len(p.left)/2 {
			t.Errorf("%d exchanges, %d held, %d with a deadline of their own", len(p.left), len(p.lasts), whole)
		}
	})
}
