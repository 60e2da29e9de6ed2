package kind

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// TestAFallIsANewLevel: the verdict of the first reading after a fall is about
// that level, not about a mean of both.
func TestAFallIsANewLevel(t *testing.T) {
	rail := capture.Rail{Name: "+5 V", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	rule, ok := capture.Rule{}, false
	k, found := Find("band")
	if !found {
		t.Fatal("no kind band")
	}
	if rule, ok = k.Implied(rail); !ok {
		t.Fatal("a rail implies no band")
	}
	j := k.New(Case{Rule: rule, Rail: rail})
	ch := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Accuracy: []capture.Accuracy{{Range: 10, OfReading: 1e-4, OfRange: 1e-5, Resolution: 1e-4}}}
	at := capture.Instant(1_000_000)
	j.Sit(at, Seat{Channel: ch})
	read := func(v float64) capture.Verdict {
		at = at.Add(200 * time.Millisecond)
		j.Read(at, &capture.Reading{Channel: ch.ID, Quantity: ch.Quantity, Value: v, Resolution: 1e-4, Range: 10})
		return j.Verdict()
	}
	for range 10 {
		read(5.001)
	}
	if v := read(1.0); v.Outcome != capture.Fail || v.Value != 1.0 || v.Uncertainty > 0.01 {
		t.Errorf("after the fall: %s, %g V ± %g V: %s", v.Outcome, v.Value, v.Uncertainty, v.Say)
	}
	if v := read(5.001); v.Outcome != capture.Pass || v.N != 1 {
		t.Errorf("back again: %s over %d readings: %s", v.Outcome, v.N, v.Say)
	}
}
