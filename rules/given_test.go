package rules

import (
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
)

// overTwo is a job with a band on the difference of two meters, which are stated
// and drift with the room; the second one's calibration may be due.
func overTwo(due string) []capture.Record {
	log := overDrop(drop)
	acc := []capture.Accuracy{{Range: 20, OfReading: 0.001, PerKelvin: 0.0005}}
	log[1].Item = capture.Roster{Instruments: []capture.InstrumentInfo{
		{Name: "dmm", Channels: []capture.ChannelInfo{{ID: "dmm/volts", Quantity: capture.DCVoltage, Accuracy: acc}}},
		{Name: "dmm2", CalibrationDue: due, Channels: []capture.ChannelInfo{{ID: "dmm2/volts", Quantity: capture.DCVoltage, Accuracy: acc}}},
	}}
	return log
}

// bandOfDrop feeds both meters once and returns the verdict on what they differ
// by.
func bandOfDrop(r *rig) capture.Verdict {
	r.item(1, volts("dmm/volts", 10))
	r.item(1.01, volts("dmm2/volts", 5))
	r.upto(1.2)
	return r.e.Verdicts()[0]
}

// The figure's uncertainty reaches the judge. By hand: limits of 10 and 5 mV and
// a count of 1 mV each, u = sqrt((0.01² + 0.005²)/3 + 2·0.001²/12) = 6.468 mV. A
// room at 38 °C adds 10 K of 0.05 %: 50 and 25 mV.
func TestUncertaintyOfAFormulaReachesTheVerdict(t *testing.T) {
	u := 2 * math.Sqrt((0.01*0.01+0.005*0.005)/3+2*0.001*0.001/12)
	r := newRig(overTwo(""))
	v := bandOfDrop(r)
	if v.Outcome != capture.Pass || v.Indicated || math.Abs(v.Uncertainty-u) > 1e-12 || v.Uncertainty != r.last().Uncertainty || v.Probability < 0.999 || v.Overdue {
		t.Errorf("%+v, want U %g", v, u)
	}
	if !strings.HasPrefix(v.Note, "meters taken as independent; assumed 23 °C") {
		t.Errorf("note %q", v.Note)
	}
	r = newRig(overTwo(""))
	r.item(0.5, capture.Act{Verb: capture.ActAmbient, Value: 38})
	hot := math.Sqrt(u*u + 4*(0.05*0.05+0.025*0.025)/3)
	if v := bandOfDrop(r); math.Abs(v.Uncertainty-hot) > 1e-12 || strings.Contains(v.Note, "assumed 23") {
		t.Errorf("at 38 °C: %+v, want U %g", v, hot)
	}
}

// A formula is overdue with the first of its inputs, and indicated only when one
// of them is.
func TestFormulaOfDoubtfulMeters(t *testing.T) {
	if v := bandOfDrop(newRig(overTwo("2020-01-01"))); !v.Overdue || v.Indicated {
		t.Errorf("one meter overdue: %+v", v)
	}
	log := overTwo("")
	log[1].Item.(capture.Roster).Instruments[1].Channels[0].Accuracy = nil
	if v := bandOfDrop(newRig(log)); !v.Indicated || v.Uncertainty != 0 || v.Probability != 0 {
		t.Errorf("one meter not stated: %+v", v)
	}
}

// Two channels of one meter on one range have its gain in common. By hand, with
// 0.1 % of 10 V and 5 V and a count of 1 mV: the gain errors of 10 and 5 mV
// subtract in the difference and add in the sum.
func TestFormulaOverOneMeter(t *testing.T) {
	count := 2 * 0.001 * 0.001 / 12
	for text, limit := range map[string]float64{"dmm/volts - dmm/two": 0.005, "dmm/volts + dmm/two": 0.015} {
		acc := []capture.Accuracy{{Range: 20, OfReading: 0.001}}
		log := overDrop(capture.Formula{Name: "drop", Text: text, Unit: "V"})
		log[1].Item = capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{
			{ID: "dmm/volts", Quantity: capture.DCVoltage, Accuracy: acc}, {ID: "dmm/two", Quantity: capture.DCVoltage, Accuracy: acc},
		}}}}
		r := newRig(append(log, capture.Record{At: epoch + 20, Item: capture.Placement{Channel: "dmm/two", Point: "TP9", Hold: capture.Clipped}}))
		r.item(1, volts("dmm/volts", 10))
		r.item(1.01, volts("dmm/two", 5))
		r.upto(1.2)
		want := 2 * math.Sqrt(limit*limit/3+count)
		if got := r.last().Uncertainty; math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: U %g, want %g", text, got, want)
		}
	}
}
