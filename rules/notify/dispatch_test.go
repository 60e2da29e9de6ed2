package notify

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// fake answers each attempt by a function.
type fake struct {
	mu   sync.Mutex
	got  []Message
	when []time.Time
	do   func(ctx context.Context, attempt int) error
}

func (f *fake) Name() string { return "fake" }

func (f *fake) Notify(ctx context.Context, m Message) error {
	f.mu.Lock()
	f.got, f.when = append(f.got, m), append(f.when, time.Now())
	n := len(f.got)
	f.mu.Unlock()
	if f.do == nil {
		return nil
	}
	return f.do(ctx, n)
}

func TestDeliversInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{}
		d := New(Options{}, f)
		for i := range 5 {
			d.Send(message(i))
		}
		if err := d.Close(t.Context()); err != nil {
			t.Fatal(err)
		}
		for i, m := range f.got {
			if m.Alarm.At != message(i).Alarm.At {
				t.Errorf("message %d is %s", i, m.Alarm.Alarm)
			}
		}
		if s := d.Stats()[0]; s.Sent != 5 || s.Queued != 0 || len(f.got) != 5 {
			t.Errorf("stats %+v, got %d", s, len(f.got))
		}
	})
}

func TestTriesAgainWithGrowingPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(_ context.Context, n int) error {
			if n < 5 {
				return fmt.Errorf("down, attempt %d", n)
			}
			return nil
		}}
		d := New(Options{FirstWait: time.Second, LongWait: 3 * time.Second, Jitter: func(d time.Duration) time.Duration { return d }}, f)
		d.Send(message(1))
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if s := d.Stats()[0]; s.Retries != 2 || s.Queued != 1 || s.Problem != "down, attempt 2" {
			t.Errorf("after 2 s: %+v", s)
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if s := d.Stats()[0]; s.Sent != 1 || s.Retries != 4 || s.Queued != 0 || s.Problem != "" {
			t.Errorf("after a minute: %+v", s)
		}
		for i, want := range []time.Duration{1, 2, 3, 3} {
			if got := f.when[i+1].Sub(f.when[i]); got != want*time.Second {
				t.Errorf("pause %d is %s, want %ds", i+1, got, want)
			}
		}
		_ = d.Close(t.Context())
	})
}

func TestGivesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(context.Context, int) error { return errors.New("down") }}
		d := New(Options{GiveUp: time.Minute}, f)
		d.Send(message(1))
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		if s := d.Stats()[0]; s.Failed != 1 || s.Sent != 0 || s.Queued != 0 {
			t.Errorf("stats %+v", s)
		}
		if last := f.when[len(f.when)-1].Sub(f.when[0]); last > time.Minute {
			t.Errorf("tried for %s", last)
		}
		_ = d.Close(t.Context())
	})
}

func TestPermanentFailureIsNotTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(_ context.Context, n int) error {
			if n == 1 {
				return fmt.Errorf("gone: %w", ErrPermanent)
			}
			return nil
		}}
		d := New(Options{}, f)
		d.Send(message(1))
		d.Send(message(2))
		_ = d.Close(t.Context())
		if s := d.Stats()[0]; s.Failed != 1 || s.Sent != 1 || s.Retries != 0 {
			t.Errorf("stats %+v", s)
		}
	})
}

func TestSendNeverWaitsAndDropsTheOldest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{})
		f := &fake{do: func(ctx context.Context, n int) error {
			select {
			case <-free:
			case <-ctx.Done():
			}
			return nil
		}}
		d := New(Options{Queue: 3, Attempt: time.Hour}, f)
		d.Send(message(0))
		synctest.Wait() // the first is under way and stuck
		before := time.Now()
		for i := 1; i <= 10; i++ {
			d.Send(message(i))
		}
		if time.Since(before) != 0 {
			t.Error("send waited")
		}
		if s := d.Stats()[0]; s.Dropped != 7 || s.Queued != 4 {
			t.Errorf("stats %+v", s)
		}
		close(free)
		_ = d.Close(t.Context())
		for i, want := range []int{0, 8, 9, 10} {
			if f.got[i].Alarm.At != message(want).Alarm.At {
				t.Errorf("message %d is %s, want number %d", i, f.got[i].Alarm.Alarm, want)
			}
		}
	})
}

func TestOneStuckNotifierDoesNotHoldUpAnother(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stuck := &fake{do: func(ctx context.Context, _ int) error { <-ctx.Done(); return ctx.Err() }}
		quick := &fake{}
		d := New(Options{}, stuck, quick)
		d.Send(message(1))
		synctest.Wait()
		if s := d.Stats()[1]; s.Sent != 1 {
			t.Errorf("quick: %+v", s)
		}
		_ = d.Close(t.Context())
	})
}

func TestCloseIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(ctx context.Context, _ int) error { <-ctx.Done(); return ctx.Err() }}
		d := New(Options{Attempt: time.Hour}, f)
		d.Send(message(1))
		d.Send(message(2))
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		before := time.Now()
		err := d.Close(ctx)
		if !errors.Is(err, ErrNotDelivered) {
			t.Errorf("close said %v", err)
		}
		if got := time.Since(before); got != 3*time.Second {
			t.Errorf("close took %s", got)
		}
		if s := d.Stats()[0]; s.Queued != 2 {
			t.Errorf("stats %+v", s)
		}
		d.Send(message(3))
		if err := d.Close(ctx); !errors.Is(err, ErrNotDelivered) {
			t.Errorf("closing twice: %v", err)
		}
	})
}

func TestCloseDoesNotSitOutPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(context.Context, int) error { return errors.New("down") }}
		d := New(Options{FirstWait: time.Minute}, f)
		d.Send(message(1))
		synctest.Wait()
		before := time.Now()
		_ = d.Close(t.Context())
		if got := time.Since(before); got != 0 {
			t.Errorf("close took %s", got)
		}
		if s := d.Stats()[0]; s.Failed != 1 {
			t.Errorf("stats %+v", s)
		}
	})
}

func TestSendAndStatsRace(t *testing.T) {
	f := &fake{}
	d := New(Options{Queue: 4}, f)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for i := range 200 {
				d.Send(message(i))
				_ = d.Stats()
			}
		})
	}
	all.Wait()
	if err := d.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s := d.Stats()[0]; s.Sent+s.Dropped != 1600 {
		t.Errorf("stats %+v", s)
	}
}
