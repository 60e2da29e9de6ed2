package story

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// Hands say what they did, remember where things are, and refuse what the bench
// does not have, with what it has.
func TestHands(t *testing.T) {
	t.Parallel()
	clock := sim.NewClock(capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC)), 1)
	defer clock.Unleash()
	h := newHands(sim.NewBench(clock, 88, sim.Scenario{}), clock, NewLeash(clock))
	for _, c := range []struct{ do, want string }{
		{"probe dmm TP5", "The probe of dmm is on TP5, touched."},
		{"probe dmm2 stand-in out clip", "The probe of dmm2 is on stand-in out, clipped."},
		{"probe dmm3 +5 V logic", "on +5 V logic, touched"},
		{"probe dmm3 off", "in the air"},
		{"probe thermo stand-in case clip", "on stand-in case, clipped"},
		{"feed stand-in", "leads are on stand-in"},
		{"part PS2 out", "PS2 is off the board."},
		{"part stand-in in", "stand-in is in its place."},
		{"turn −0.75", "turns by -0.75"},
		{"fault input joint 1.8s", "It happens: input joint 1.8s."},
		{"fault clear", "It happens: clear."},
		{"speed 600", "600 times as fast"},
		{"speed 1", "1 times as fast"},
	} {
		if say, err := h.Do(strings.Fields(c.do)); err != nil || !strings.Contains(say, c.want) {
			t.Errorf("%s: %q, %v", c.do, say, err)
		}
	}
	look := h.Look()
	at := map[string]string{}
	for _, p := range look.Probes {
		at[p.Meter] = p.At
	}
	in := map[string]bool{}
	for _, p := range look.Parts {
		in[p.Name] = p.In
	}
	if at["dmm"] != "TP5" || at["dmm2"] != "stand-in out" || at["dmm3"] != "" || !look.Probes[1].Clip || in["PS2"] || !in["stand-in"] || !in["CN3"] || look.Feed != sim.FeedNothing || len(look.Faults) != len(sim.Faults()) {
		t.Errorf("%+v", look)
	}
	for do, want := range map[string]string{
		"":                 "probe METER POINT",
		"dance":            "probe METER POINT",
		"probe dmm":        "probe dmm TP5",
		"probe dmm TP99":   "TP12",
		"probe dmm9 TP5":   "dmm2",
		"part PS2":         "in or out",
		"part PS2 in":      "the other converter",
		"part R1 out":      "C104",
		"feed moon":        "stand-in",
		"turn much":        "number of turns",
		"turn 26":          "-25 to 25",
		"turn NaN":         "number of turns",
		"fault earthquake": "input joint DURATION",
		"speed 0":          "between 1 and 700",
	} {
		if say, err := h.Do(strings.Fields(do)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %q, %v", do, say, err)
		}
	}
}
