package chart

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// The noise of a rail without power is neither red nor a fall with a figure; a fall
// under power, and one that an alarm was raised for, are.
func TestWithoutPowerIsNoFall(t *testing.T) {
	var s []capture.Bucket
	for i := range 60 {
		v := 5.01
		if i >= 20 && i < 40 {
			v = 0.002
		}
		at := start.Add(time.Duration(i) * 10 * time.Second)
		s = append(s, capture.Bucket{From: at, To: at.Add(5 * time.Second), N: 5, Min: v, Max: v + 0.002, Mean: v + 0.001})
	}
	cold := []Span{{From: s[20].From, To: s[40].From}}
	alarm, late := []capture.Instant{s[20].From}, []capture.Instant{s[35].From}
	begun := []Span{{From: s[20].From, To: s[30].From}}
	for name, c := range map[string]struct {
		cold      []Span
		fell      []capture.Instant
		red, soft bool
	}{
		"without power":               {cold, nil, false, true},
		"under power":                 {nil, nil, true, false},
		"fell, then was switched off": {cold, alarm, true, true},
		"without power to the end":    {[]Span{{From: s[20].From}}, nil, false, true},
		"not switched on yet":         {begun, nil, false, true},
		"switched on, and missing":    {begun, late, true, true},
		"without power elsewhere":     {[]Span{{From: s[45].From, To: s[50].From}}, nil, true, false},
	} {
		got := railOf(t, RailModel{Rail: plus5, Series: s, Fell: c.fell, Cold: c.cold})
		if red := strings.Contains(got, `" out"`) || strings.Contains(got, "c-mean out") || strings.Contains(got, "down to"); red != c.red {
			t.Errorf("%s: red: %t", name, red)
		}
		if soft := strings.Contains(got, ">without power<") && strings.Contains(got, "c-mean cold") && strings.Contains(got, "Others were read without power."); soft != c.soft {
			t.Errorf("%s: soft: %t", name, soft)
		}
		wellFormed(t, got)
	}
	if got := railOf(t, RailModel{Rail: plus5, Series: s[20:40], Cold: cold}); strings.Contains(got, "No readings<") || !strings.Contains(got, "No readings under power.") {
		t.Error("all of it without power: it is said that nothing was read")
	}
}
