package capture_test

import (
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

func TestInstantCutsToTheMicrosecond(t *testing.T) {
	at := time.Date(2026, 3, 1, 12, 0, 0, 123456789, time.FixedZone("", 3600))
	i := capture.InstantOf(at)
	if got := i.String(); got != "2026-03-01T11:00:00.123456Z" {
		t.Errorf("printed as %s", got)
	}
	if !i.Time().Equal(at.Truncate(time.Microsecond)) {
		t.Errorf("came back as %s", i.Time())
	}
	if capture.Instant(0).String() != "unknown" || !capture.Instant(0).IsZero() {
		t.Error("the zero instant is not known")
	}
}

func TestInstantAddSub(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := capture.Instant(rapid.Int64Range(0, 1<<52).Draw(t, "instant"))
		d := time.Duration(rapid.Int64Range(-1<<50, 1<<50).Draw(t, "span"))
		if got := i.Add(d).Sub(i); got != d.Truncate(time.Microsecond) {
			t.Fatalf("%s later is %s later", d, got)
		}
	})
}

// Ticks of a span are the ticks of its pieces: replay may cut where it likes.
func TestTicksDoNotDependOnWhereTheyAreCut(t *testing.T) {
	const grid = capture.Instant(capture.TickGrid / time.Microsecond)
	ticks := func(after, upto capture.Instant) (out []capture.Instant) {
		capture.Ticks(after, upto, func(i capture.Instant) bool { out = append(out, i); return true })
		return out
	}
	rapid.Check(t, func(t *rapid.T) {
		a := capture.Instant(rapid.Int64Range(0, 1<<51).Draw(t, "from"))
		b := a + capture.Instant(rapid.Int64Range(0, 3_000_000).Draw(t, "first"))
		c := b + capture.Instant(rapid.Int64Range(0, 3_000_000).Draw(t, "second"))
		whole, parts := ticks(a, c), append(ticks(a, b), ticks(b, c)...)
		if len(whole) != len(parts) {
			t.Fatalf("%d ticks in one piece, %d in two", len(whole), len(parts))
		}
		for i, w := range whole {
			if w != parts[i] || w%grid != 0 || w <= a || w > c {
				t.Fatalf("tick %d is %d and %d in (%d, %d]", i, w, parts[i], a, c)
			}
		}
		if want := int(c/grid - a/grid); len(whole) != want {
			t.Fatalf("%d ticks, want %d", len(whole), want)
		}
	})
}

func TestTicksStop(t *testing.T) {
	n := 0
	capture.Ticks(0, 1_000_000, func(capture.Instant) bool { n++; return n < 3 })
	if n != 3 {
		t.Errorf("%d ticks after being told to stop at 3", n)
	}
}

func TestWallClock(t *testing.T) {
	c := capture.NewWallClock()
	a := c.Now()
	if b := c.Now(); b < a {
		t.Errorf("went from %s back to %s", a, b)
	}
	if p := c.Parted(); p.Abs() > time.Second {
		t.Errorf("parted by %s at once", p)
	}
	fired, stop := c.After(0)
	defer stop()
	<-fired
}

func TestWallClockGoesOnFromTheRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := capture.NewWallClock()
		ends := c.Now().Add(2 * time.Hour) // the record ends two hours from what the computer believes
		if by := c.Advance(ends); by != 2*time.Hour {
			t.Errorf("put ahead by %s", by)
		}
		time.Sleep(time.Second)
		if got := c.Now().Sub(ends); got != time.Second {
			t.Errorf("a second later it stands %s after the record's end", got)
		}
		if by := c.Advance(ends); by != 0 {
			t.Errorf("turned by %s though it was ahead", by)
		}
	})
}
