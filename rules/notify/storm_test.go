package notify

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
)

// The first few go at once; the rest of the window is told as one at its end;
// while the storm lasts, so is every window after it.
func TestStormIsToldAsOne(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{}
		d := New(Options{GroupAfter: 2, GroupWithin: 10 * time.Second}, f)
		began := time.Now()
		for i := range 9 {
			d.Send(message(i))
			time.Sleep(time.Second)
		}
		time.Sleep(5 * time.Second) // 14 s: the first window is over
		d.Send(message(14))
		time.Sleep(time.Minute)
		d.Send(message(74)) // long after: alone again, at once
		synctest.Wait()
		_ = d.Close(t.Context())
		var sizes []int
		var when []time.Duration
		for i, m := range f.got {
			sizes, when = append(sizes, len(m.each())), append(when, f.when[i].Sub(began).Round(time.Second))
		}
		for i, want := range []struct {
			size int
			at   time.Duration
		}{{1, 0}, {1, 1}, {7, 10}, {1, 20}, {1, 74}} {
			if i >= len(sizes) || sizes[i] != want.size || when[i] != want.at*time.Second {
				t.Fatalf("told %v at %v, want %v at its place", sizes, when, want)
			}
		}
		if s := d.Stats()[0]; s.Sent != 11 {
			t.Errorf("stats %+v", s)
		}
	})
}

func TestGroupSaysTheGravestFirst(t *testing.T) {
	var all []Message
	for i, say := range []string{"+12 V audio low", "+3.3 V DSP low", "+5 V logic collapsed", "-12 V audio low", "no reading on +12 V audio"} {
		m := message(i)
		m.Alarm.Say, m.Alarm.Severity = say, capture.Warning
		if i == 2 {
			m.Alarm.Severity = capture.Urgent
		}
		all = append(all, m)
	}
	g := grouped(all)
	want := "5 alarms in 4 s: +5 V logic collapsed; +12 V audio low; +3.3 V DSP low; and 2 more; the first was: +12 V audio low"
	if g.Say() != want || g.Alarm.Severity != capture.Urgent || len(g.Group) != 5 {
		t.Errorf("said %q, want %q", g.Say(), want)
	}
	var got struct {
		Sentence string
		Group    []struct{ Sentence, Alarm string }
	}
	if b, err := json.Marshal(g); err != nil || json.Unmarshal(b, &got) != nil || len(got.Group) != 5 || got.Group[4].Sentence != "no reading on +12 V audio" || got.Sentence != want {
		t.Errorf("body %+v, %v", got, err)
	}
	if g.Key() == all[2].Key() || len(g.Key()) != 32 {
		t.Errorf("key %q", g.Key())
	}
}

// A full queue loses what is not urgent first, and the next message says how
// much was lost.
func TestLossIsSaid(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{})
		f := &fake{do: func(context.Context, int) error { <-free; return nil }}
		d := New(Options{Queue: 3, Attempt: time.Hour, GroupAfter: 100}, f)
		d.Send(message(0))
		synctest.Wait() // under way and stuck
		for i := 1; i <= 6; i++ {
			m := message(i)
			if i%2 == 0 {
				m.Alarm.Severity = capture.Warning
			}
			d.Send(m)
		}
		d.Send(message(7)) // 1, 3 and 5 are urgent and wait: now one must go
		if s := d.Stats()[0]; s.Dropped != 4 || s.Urgent != 1 {
			t.Errorf("stats %+v", s)
		}
		close(free)
		_ = d.Close(t.Context())
		if f.got[0].Lost.N != 0 || f.got[1].Lost != (Loss{4, 1}) || f.got[2].Lost.N != 0 {
			t.Errorf("said %+v, %+v, %+v", f.got[0].Lost, f.got[1].Lost, f.got[2].Lost)
		}
		if say := f.got[1].Lost.Say(); !strings.Contains(say, "4 messages did not arrive, 1 of them urgent") {
			t.Error(say)
		}
		for i, want := range []int{0, 3, 5, 7} {
			if f.got[i].Alarm.At != message(want).Alarm.At {
				t.Errorf("message %d is %s, want number %d", i, f.got[i].Alarm.Alarm, want)
			}
		}
	})
}

var errDown = errors.New("down")

// What failed at the last attempt while closing is in Close's error.
func TestCloseReturnsTheLastError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(context.Context, int) error { return errDown }}
		d := New(Options{}, f, &fake{})
		d.Send(message(1))
		d.Send(message(2))
		synctest.Wait()
		err := d.Close(t.Context())
		if !errors.Is(err, ErrNotDelivered) || !errors.Is(err, errDown) || !strings.Contains(err.Error(), "2 to fake: down") {
			t.Errorf("close said %v", err)
		}
	})
}

func TestJitterOnlyShortens(t *testing.T) {
	o := Options{}.withDefaults()
	for range 1000 {
		if d := o.Jitter(time.Second); d < 750*time.Millisecond || d > time.Second {
			t.Fatalf("a pause of %s", d)
		}
	}
}

// A test goes past the queue, waits for no pause, and says what came back.
func TestTryingANotifier(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		works := false
		f := &fake{do: func(context.Context, int) error {
			time.Sleep(30 * time.Millisecond)
			if works {
				return nil
			}
			return errDown
		}}
		d := New(Options{FirstWait: time.Minute, LongWait: time.Minute}, f)
		d.Send(message(1))
		time.Sleep(time.Second)
		synctest.Wait() // in the pause after the first attempt
		if _, err := d.Test(t.Context(), "fake", TestMessage("east", 5, nil)); !errors.Is(err, errDown) {
			t.Errorf("said %v", err)
		}
		if s := d.Stats()[0]; s.FailingSince.IsZero() || !s.Tried || s.Queued != 1 {
			t.Errorf("stats %+v", s)
		}
		works = true
		took, err := d.Test(t.Context(), "fake", TestMessage("east", 6, nil))
		if err != nil || took != 30*time.Millisecond {
			t.Errorf("took %s, %v", took, err)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		if s := d.Stats()[0]; s.Sent != 1 || !s.FailingSince.IsZero() || s.Problem != "" {
			t.Errorf("after it works: %+v", s)
		}
		if !f.got[2].Test || f.got[3].Test {
			t.Error("the test is not marked, or an alarm is")
		}
		if _, err := d.Test(t.Context(), "pigeon", Message{}); !errors.Is(err, ErrUnknown) {
			t.Errorf("unknown: %v", err)
		}
		_ = d.Close(t.Context())
		if _, err := d.Test(t.Context(), "fake", Message{}); !errors.Is(err, ErrClosed) {
			t.Errorf("after closing: %v", err)
		}
	})
}

func TestFailingSinceIsTheFirstFailure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fake{do: func(context.Context, int) error { return errDown }}
		d := New(Options{}, f)
		began := time.Now()
		d.Send(message(1))
		time.Sleep(3 * time.Minute)
		synctest.Wait()
		if s := d.Stats()[0]; !s.FailingSince.Equal(began) || s.Problem != "down" {
			t.Errorf("stats %+v", s)
		}
		_ = d.Close(t.Context())
	})
}
