package app_test

import (
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers/sim"
)

// handFaults are what a person or a worn battery does to a handheld, and what
// the screen then says.
var handFaults = []struct {
	name  string
	begin func(h *sim.Handheld) error
	end   func(h *sim.Handheld) error
	shown // the sentence of a loaded computer may be that it does not answer
}{
	{"held display", func(h *sim.Handheld) error { h.Hold(true); return nil }, func(h *sim.Handheld) error { h.Hold(false); return nil },
		shown{name: "held display", flags: capture.Held, says: "is on hold|does not answer"}},
	{"wrong unit", func(h *sim.Handheld) error { return h.Dial(sim.DialOhms) }, func(h *sim.Handheld) error { return h.Dial(sim.DialVolts) },
		shown{name: "wrong unit", flags: capture.Refused, says: "gives no usable answer|does not answer"}},
	{"low battery", func(h *sim.Handheld) error { h.Battery(true); return nil }, func(h *sim.Handheld) error { h.Battery(false); return nil },
		shown{name: "low battery", flags: capture.LowBattery, says: "has a low battery|does not answer"}},
}

// TestHandheldFaultsShow: a display that is held, a dial that was turned and a
// battery that is low give no verdict, and the person reads which it is.
func TestHandheldFaultsShow(t *testing.T) {
	t.Parallel()
	r, h := benchWithHandheld(t)
	_, err := r.Place(t.Context(), "", capture.Placement{Channel: volts(sim.DMM)})
	r.must(err)
	_, err = r.tap(five, func() error { return h.Touch(sim.Point5, capture.Clipped) })
	r.must(err)
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: volts(hand), Rail: five, Point: sim.Point5, Hold: capture.Clipped})
	r.must(err)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	inside := func(s live.Snapshot) bool {
		j, _ := s.Job("")
		v := j.Rails[0].Volts
		a, open := alarm(s, "silent", five)
		return v != nil && v.Reading.Good() && v.Reading.Channel == volts(hand) && v.At > s.Now.Add(-2*time.Second) && (!open || !a.To.IsActive())
	}
	for _, f := range handFaults {
		r.until(f.name+": it reads before", inside)
		r.must(f.begin(h))
		r.until(f.name+": silence is an alarm", func(s live.Snapshot) bool { a, ok := alarm(s, "silent", five); return ok && a.To == capture.Active })
		r.until(f.name+": the API says which", func(live.Snapshot) bool {
			got := r.railOnAPI(five)
			flags, err := capture.ParseFlags(got.Volts.Flags)
			return err == nil && flags.Has(f.flags)
		})
		r.alarmSays(f.shown, five)
		r.until(f.name+": no verdict", func(s live.Snapshot) bool { return outcome(s, "band", five) == capture.NoData })
		r.must(f.end(h))
		r.until(f.name+": it reads again", inside)
		if a, ok := alarm(r.Snapshot(), "silent", five); ok {
			r.act(capture.Act{Verb: capture.ActHeard, Subject: a.Alarm})
		}
	}
	r.stop()
}
