package session_test

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/drivers/session"
)

var bounds = []session.Bound{
	{Name: "volts", Unit: capture.Volt, Step: 0.01, Max: 32},
	{Name: "over-voltage", Unit: capture.Volt, Step: 0.01, Max: 35},
}

// supply refuses a set-point above its protection, and a protection below its
// set-point, as many do.
type supply [2]float64

func (s *supply) panel() session.Panel {
	return session.Panel{
		Set: func(at int, v float64) error {
			next := *s
			if next[at] = v; next[0] > next[1] {
				return session.ErrRefused
			}
			*s = next
			return nil
		},
		Get:         func(at int) (float64, error) { return s[at], nil },
		Unconfirmed: func(what string) error { return errors.New(what) },
	}
}

// TestNoStepIsRefused: whatever is in force, and however it was written, a
// set-point under its protection can be programmed.
func TestNoStepIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pair := func(what string) supply {
			guard := rapid.Float64Range(0, 32).Draw(t, what+" protection")
			return supply{rapid.Float64Range(0, guard).Draw(t, what+" volts"), guard}
		}
		has, wants := pair("old"), pair("new")
		list := []session.Setting{{At: 0, Value: wants[0]}, {At: 1, Value: wants[1]}}
		if rapid.Bool().Draw(t, "protection first") {
			list[0], list[1] = list[1], list[0]
		}
		if said, err := has.panel().Program(bounds, list); err != nil || has != wants {
			t.Fatalf("%q, %v: %v, want %v", said, err, has, wants)
		}
	})
}

func FuzzParseLimits(f *testing.F) {
	for _, s := range []string{"volts 5", "volts 5, over-voltage 6", "volts -0", "volts 1e1,volts 2", "over-voltage 0x1p3", ",", "volts Inf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		list, err := session.ParseLimits(text, bounds)
		if err != nil {
			if !errors.Is(err, session.ErrNotAllowed) || list != nil {
				t.Fatalf("%v, %v", list, err)
			}
			return
		}
		for _, s := range list {
			if !(s.Value >= 0 && s.Value <= bounds[s.At].Max) {
				t.Fatalf("%q: %v", text, list)
			}
		}
		if len(list) == 0 || len(list) > len(bounds) {
			t.Fatalf("%q: %v", text, list)
		}
	})
}
