package app_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
)

// The minute of an injection is the daemon's: it ends when it is over, when it
// was ended, or when the program ends, whoever asked for it.
func TestLasting(t *testing.T) {
	for name, c := range map[string]struct {
		ends, ended, stopped time.Duration
		why                  string
	}{
		"over":             {time.Minute, time.Hour, time.Hour, "its time is over"},
		"ended":            {20 * time.Second, 20 * time.Second, time.Hour, "ended before its time"},
		"the program ends": {30 * time.Second, time.Hour, 30 * time.Second, "the program ends"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ended, stop := context.WithTimeout(context.Background(), c.ended)
				defer stop()
				ctx, cancel := context.WithTimeout(context.Background(), c.stopped)
				defer cancel()
				begun := time.Now()
				why := app.Lasting(ctx, ended, capture.NewWallClock(), time.Minute)
				if took := time.Since(begun); why != c.why || took != c.ends {
					t.Errorf("%q after %s", why, took)
				}
			})
		})
	}
}

// What is not confirmed is tried a bounded number of times, with pauses, each
// attempt bounded too; an end of the program cuts the pauses, not the attempts.
func TestInsist(t *testing.T) {
	broken := errors.New("it reads back as on")
	for name, c := range map[string]struct {
		good  int           // attempt that succeeds; 0: none
		hang  bool          // attempts last until their bound
		stop  time.Duration // of the program
		tries int
		took  time.Duration
	}{
		"at once":          {1, false, time.Hour, 1, 0},
		"the third":        {3, false, time.Hour, 3, 2 * app.TripPause},
		"never":            {0, false, time.Hour, app.TripTries, (app.TripTries - 1) * app.TripPause},
		"hanging":          {0, true, time.Hour, app.TripTries, (app.TripTries-1)*app.TripPause + app.TripTries*app.TripWait},
		"the program ends": {0, false, time.Nanosecond, app.TripTries, time.Nanosecond},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, cancel := context.WithTimeout(context.Background(), c.stop)
				defer cancel()
				begun, n := time.Now(), 0
				err := app.Insist(ctx, func(ctx context.Context) error {
					n++
					if c.hang {
						<-ctx.Done()
					}
					if n == c.good {
						return nil
					}
					return broken
				})
				if took := time.Since(begun); n != c.tries || took != c.took || (err == nil) != (c.good > 0) || err != nil && !errors.Is(err, broken) {
					t.Errorf("%d attempts in %s: %v", n, took, err)
				}
			})
		})
	}
}

// After its end a switcher takes nothing, and the end has waited for what there
// was; two trips of one output do not run beside each other.
func TestSwitcher(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var s app.Switcher
		if s.Do(func(context.Context) {}) {
			t.Error("work before the beginning")
		}
		end := s.Begin()
		done := false
		if !s.Do(func(ctx context.Context) {
			<-ctx.Done()
			time.Sleep(time.Second) // the last attempt
			done = true
		}) {
			t.Error("no work was let in")
		}
		if !s.Claim("supply") || s.Claim("supply") || !s.Claim("psu/1") {
			t.Error("outputs are not claimed once each")
		}
		s.Free("supply")
		if !s.Claim("supply") {
			t.Error("a free output cannot be claimed")
		}
		if err := end(t.Context()); err != nil || !done || s.Do(func(context.Context) {}) {
			t.Errorf("after the end: %v, waited %t", err, done)
		}
	})
}
