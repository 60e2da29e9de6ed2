package kind

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// No answer is never a pass: what a rail was before its meter fell silent is not
// what it is. A value that a person typed is no series and stays.
func TestSilenceIsNoPass(t *testing.T) {
	for _, name := range []string{"band", "missing", "collapse"} {
		for what, flags := range map[string]capture.Flags{"no answer": capture.TimedOut, "no number": capture.NotANumber, "held": capture.Held} {
			j := armed(t, name, five)
			for i := range 10 {
				when := at(float64(i) * 0.2)
				j.Read(when, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: 1e-3})
				j.Tick(when)
			}
			if j.Outcome() == capture.NoData {
				t.Fatalf("%s: no data while it reads", name)
			}
			reads := j.Outcome()
			for i := range 40 {
				when := at(2 + float64(i)*0.2)
				j.Read(when, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Flags: flags})
				j.Tick(when)
				want := reads
				if when.Sub(at(1.8)) >= SilentLeast {
					want = capture.NoData
				}
				if v := j.Verdict(); j.Outcome() != want || v.Outcome != want || (want == capture.NoData) != (v.Say == "No reading") {
					t.Errorf("%s, %s for %s: %s, %+v", name, what, when.Sub(at(1.8)), j.Outcome(), v)
				}
			}
			j.Read(at(11), &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: 1e-3})
			if j.Outcome() == capture.NoData {
				t.Errorf("%s: no data when it reads again", name)
			}
		}
	}
	j := armed(t, "band", five)
	j.Read(start, &capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5, Resolution: 1e-3, Flags: capture.ByEye})
	j.Tick(start.Add(time.Hour))
	if j.Outcome() == capture.NoData {
		t.Error("a value read by eye fell silent")
	}
}
