package app_test

import (
	"errors"
	"strings"
	"sync/atomic"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers/sim"
)

// While a soak runs the computer is kept awake, and not a moment longer; where
// nothing can, the record says so once.
func TestASoakKeepsTheComputerAwake(t *testing.T) {
	t.Parallel()
	r := newBench(t, 4)
	var held, taken, refuse atomic.Int32
	r.inhibit = func(why string) (func(), error) {
		if !strings.Contains(why, jobID) {
			t.Errorf("its reason: %q", why)
		}
		taken.Add(1)
		if refuse.Load() > 0 {
			return nil, errors.New("no login manager")
		}
		held.Add(1)
		return func() { held.Add(-1) }, nil
	}
	r.start()
	r.open(jobID)
	r.put(sim.DMM, five, sim.Point5, capture.Clipped)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	if held.Load() != 0 {
		t.Error("awake without a soak")
	}
	start, stop := capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600}, capture.Act{Verb: capture.ActSoak, Text: "stop"}
	r.act(start)
	r.until("it is kept awake", func(live.Snapshot) bool { return held.Load() == 1 })
	r.act(stop)
	r.until("it may sleep", func(live.Snapshot) bool { return held.Load() == 0 })
	refuse.Store(1)
	r.act(start)
	r.until("the record says so", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		for _, e := range j.Entries {
			if strings.Contains(e.Text, "may fall asleep during the soak") && strings.Contains(e.Text, "no login manager") {
				return true
			}
		}
		return false
	})
	r.pass(3e9)
	if taken.Load() != 2 {
		t.Errorf("asked %d times", taken.Load())
	}
}
