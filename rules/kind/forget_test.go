package kind

import (
	"math"
	"testing"

	"steadyrail/capture"
)

// TestSitForgetsTheOtherContact: what one contact left within the deadband says
// nothing about the next.
func TestSitForgetsTheOtherContact(t *testing.T) {
	for name, c := range map[string]struct{ out, back float64 }{
		"missing": {1.2, 3.01}, // missing below 3 V, deadband 0.02 V
		"band":    {5.11, 5.095},
	} {
		j := armed(t, name, five)
		read := func(sec, v float64) Condition {
			j.Read(at(sec), &capture.Reading{Quantity: capture.DCVoltage, Value: v, Resolution: 0.001})
			return j.Condition()
		}
		read(0.1, 5)
		if read(0.2, c.out) != Present || read(0.4, c.back) != Present {
			t.Fatalf("%s: %g V after %g V is not within the deadband", name, c.back, c.out)
		}
		j.Sit(at(1), Seat{Channel: capture.ChannelInfo{ID: "dmm2/volts", Quantity: capture.DCVoltage}})
		read(1.1, 5) // seen in band, so that nothing is put down to its rising
		j.Sit(at(2), Seat{Channel: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage}})
		read(2.1, c.out)
		j.Sit(at(3), Seat{Channel: capture.ChannelInfo{ID: "dmm2/volts", Quantity: capture.DCVoltage}})
		// The grace for rising is over by then.
		j.Tick(at(9))
		if got := read(9.1, c.back); got != Absent {
			t.Errorf("%s: a new contact at %g V gives condition %d", name, c.back, got)
		}
	}
}

// TestSilentClaimsNothingFromBeforeItWasArmed: a reading of before is no
// reading of the watch.
func TestSilentClaimsNothingFromBeforeItWasArmed(t *testing.T) {
	j := armed(t, "silent", five)
	j.Arm(at(0.1), Arming{Why: "the stage is cold checks"})
	j.Read(at(0.2), &capture.Reading{Quantity: capture.DCVoltage, Value: 5})
	j.Arm(at(10), Arming{Armed: true})
	if v := j.Verdict(); v.Outcome != capture.NoData {
		t.Errorf("armed just now, it says %s, %q", v.Outcome, v.Say)
	}
	j.Read(at(10.2), &capture.Reading{Quantity: capture.DCVoltage, Value: 5})
	if v := j.Verdict(); v.Outcome != capture.Pass {
		t.Errorf("after a reading it says %s, %q", v.Outcome, v.Say)
	}
}

// TestLimitingHearsTheSupplyAlone: a multimeter on the rail cannot know.
func TestLimitingHearsTheSupplyAlone(t *testing.T) {
	meter := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage}
	supply := capture.ChannelInfo{ID: "supply/volts", Quantity: capture.DCVoltage, Setpoint: true}
	for _, k := range Table() {
		if k.Listen.Hears(supply) != (k.Name == "limiting") {
			t.Errorf("%s listens to the supply: %v", k.Name, k.Listen.Hears(supply))
		}
		if k.Name == "limiting" && k.Listen.Hears(meter) {
			t.Error("limiting takes a multimeter's word")
		}
	}
}

func TestCheckRefusesNumbersThatAreNone(t *testing.T) {
	good := capture.Rule{Name: "a", Kind: "missing", Rail: "r"}
	if err := Check(good); err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		limit, band := good, good
		limit.Limit, band.Deadband = v, v
		if Check(limit) == nil || Check(band) == nil {
			t.Errorf("%g is taken for a limit or a deadband", v)
		}
	}
}
