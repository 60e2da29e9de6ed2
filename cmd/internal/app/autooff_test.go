package app_test

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
)

// A handheld that soon switches itself off is told of before it does. A key and
// *heard* begin the count anew; when nobody presses one it goes, and its silence
// is an alarm of its own. Replay gives the same: see [rig.read].
func TestAutoOff(t *testing.T) {
	t.Parallel()
	const off = 45 * time.Second // told after 36 s
	r := newBench(t, 5)
	h, err := sim.NewHandheld(r.bench, sim.HandheldOptions{Form: sim.FormLines, TCP: true})
	r.must(err)
	t.Cleanup(h.Close)
	m := r.cfg.Models["stream-ascii"]
	m.AutoOff = off
	r.cfg.Models["stream-ascii"] = m
	r.cfg.Instruments = append(r.cfg.Instruments, drivers.Config{
		Name: hand, Model: "stream-ascii", Link: h.Link(), Simulated: true,
		Isolation: capture.Isolation{Category: "CAT III 600 V", Port: "isolated"},
	})
	r.start()
	r.powered()
	r.must(r.bench.Lift(sim.DMM))
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: volts(sim.DMM)})
	r.must(err)
	_, err = r.tap(five, func() error { return h.Touch(sim.Point5, capture.Clipped) })
	r.must(err)
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: volts(hand), Rail: five, Point: sim.Point5, Hold: capture.Clipped})
	r.must(err)
	pressed := r.clock.Now() // by whoever clipped it
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	begun := r.act(capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
	if want := " hand, on +5 V logic, may switch itself off after 45 s, before the soak ends: turn that off on the meter, or press a key when it is asked for."; !strings.HasSuffix(begun.Say, want) {
		t.Errorf("at the soak's start: %q", begun.Say)
	}

	told := func(s live.Snapshot) bool {
		a, ok := alarm(s, "auto-off", five)
		return ok && a.To == capture.Active
	}
	s := r.until("it is told of", told)
	a, _ := alarm(s, "auto-off", five)
	if early := a.At.Sub(pressed); early < off*4/5-2*time.Second || early > off-time.Second {
		t.Errorf("told %v after the last key; it goes after %v", early, off)
	}
	if !strings.Contains(a.Say, "hand may switch itself off") || a.Severity != capture.Warning {
		t.Errorf("%+v", a)
	}
	r.act(capture.Act{Verb: capture.ActHeard, Subject: a.Alarm})
	pressed = r.clock.Now()
	r.until("it is over", func(s live.Snapshot) bool { _, ok := alarm(s, "auto-off", five); return !ok })

	s = r.until("it is told of again", told)
	if a, _ = alarm(s, "auto-off", five); a.At.Sub(pressed) < off*4/5-2*time.Second {
		t.Errorf("told again after %v", a.At.Sub(pressed))
	}
	r.must(h.Dial(sim.DialOff)) // nobody came
	r.until("its silence is an alarm", func(s live.Snapshot) bool {
		a, ok := alarm(s, "silent", five)
		return ok && a.To.IsActive()
	})
	r.must(h.Dial(sim.DialVolts))
	r.until("a key was pressed", func(s live.Snapshot) bool {
		a, ok := alarm(s, "auto-off", five)
		return !ok || !a.To.IsActive()
	})
	r.stop()
	var states []string
	for _, tr := range r.read(jobID).transitions {
		if tr.Kind == "auto-off" {
			if tr.Rail != five {
				t.Errorf("on a rail of another meter: %+v", tr)
			}
			states = append(states, tr.To.String())
		}
	}
	if got := strings.Join(states, ", "); got != "active, heard, normal, active, returned" {
		t.Error(got)
	}
}
