package cli

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// A time is matched as far as it was typed, in its zone or else in this computer's.
func TestWhen(t *testing.T) {
	here := time.FixedZone("here", 3600)
	at := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 200_000, here))
	for text, want := range map[string]bool{
		"2031-03-12T10:00:00.000200+01:00":    true,
		"2031-03-12T10:00:00.000200999+01:00": true,
		"2031-03-12T09:00:00.0002Z":           true,
		"2031-03-12 10:00":                    true,
		"2031-03-12T10:00:00,0002+0100":       true,
		"10:00:00":                            true,
		"10:00":                               true,
		"09:00Z":                              true,
		" 10:00 ":                             true,
		"10:00:01":                            false,
		"2031-03-11 10:00":                    false,
		"2031-03-12T10:00:00.000201+01:00":    false,
		"10:00Z":                              false,
	} {
		m, ok := when(text, here)
		if !ok {
			t.Errorf("%q is not understood", text)
		} else if m.match(at) != want {
			t.Errorf("%q matches: %t", text, !want)
		}
	}
	for _, text := range []string{"", "10", "10:0", "2031-03-12", "now", "10:00:00.", "2031-03-12T10:00:00+1", "10:00+99:99", "25:00", "2031-02-30 10:00"} {
		if _, ok := when(text, here); ok {
			t.Errorf("%q is understood", text)
		}
	}
}

// What matches lies in one of the stretches that are read for it, on the days on
// which the clocks change too, and in one only.
func TestWhatMatchesIsLookedFor(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom([]*time.Location{berlin, time.UTC, time.FixedZone("far", -11*3600)}).Draw(t, "zone")
		begin := rapid.SampledFrom([]time.Time{time.Date(2031, 3, 25, 0, 0, 0, 0, time.UTC), time.Date(2031, 10, 20, 0, 0, 0, 0, time.UTC)}).Draw(t, "begin")
		first, span := capture.InstantOf(begin), int64(12*aDay/time.Microsecond)
		at := first + capture.Instant(rapid.Int64Range(0, span).Draw(t, "at"))
		full := at.Time().In(zone).Format(dayLayout + "15:04:05.000000")
		text := full[rapid.SampledFrom([]int{0, len(dayLayout)}).Draw(t, "from"):]
		text = text[:len(text)-rapid.SampledFrom([]int{0, 3, 7, 10}).Draw(t, "cut")]
		m, ok := when(text, zone)
		if !ok || !m.match(at) {
			t.Fatalf("%q does not match %s", text, full)
		}
		in, all := 0, time.Duration(0)
		for _, g := range m.within(first, first+capture.Instant(span)) {
			all += g.To.Sub(g.From)
			if at >= g.From && at < g.To {
				in++
			}
		}
		if in != 1 || zone != berlin && all > 13*m.lasts {
			t.Fatalf("%q: in %d stretches of %s", text, in, all)
		}
	})
}

func FuzzWhen(f *testing.F) {
	for _, text := range []string{"2031-03-12T10:00:00.000200+01:00", "10:00", "10:00:00,5Z", "x"} {
		f.Add(text, int64(0))
	}
	f.Fuzz(func(t *testing.T, text string, at int64) {
		if m, ok := when(text, time.UTC); ok {
			m.match(capture.Instant(at % 4e15))
			m.within(capture.Instant(at%4e15), capture.Instant(at%4e15)+60e6)
		}
	})
}
