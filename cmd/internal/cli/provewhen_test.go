package cli

import (
	"testing"
	"time"

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
		match, ok := when(text, here)
		if !ok {
			t.Errorf("%q is not understood", text)
		} else if match(at) != want {
			t.Errorf("%q matches: %t", text, !want)
		}
	}
	for _, text := range []string{"", "10", "10:0", "2031-03-12", "now", "10:00:00.", "2031-03-12T10:00:00+1", "10:00+99:99"} {
		if _, ok := when(text, here); ok {
			t.Errorf("%q is understood", text)
		}
	}
}

func FuzzWhen(f *testing.F) {
	for _, text := range []string{"2031-03-12T10:00:00.000200+01:00", "10:00", "10:00:00,5Z", "x"} {
		f.Add(text, int64(0))
	}
	f.Fuzz(func(t *testing.T, text string, at int64) {
		if match, ok := when(text, time.UTC); ok {
			match(capture.Instant(at % 4e15))
		}
	})
}
