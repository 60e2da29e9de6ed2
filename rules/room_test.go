package rules

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// roomJob is a job on +5 V with a meter that drifts with the room and a
// thermometer.
func roomJob(due string) *Engine {
	e := New("")
	sheet := capture.Sheet{Job: "AB-0147", Rails: []capture.Rail{five}}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{
		{Name: "dmm", CalibrationDue: due, Channels: []capture.ChannelInfo{{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond,
			Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.001, Resolution: 0.001, PerKelvin: 0.001}}}}},
		{Name: "thermo", Channels: []capture.ChannelInfo{{ID: "thermo/celsius", Quantity: capture.Temperature, Every: time.Second}}},
	}}
	for _, rec := range []capture.Record{
		{At: epoch + 1, Item: sheet}, {At: epoch + 2, Item: roster}, {At: epoch + 3, Item: capture.RuleSet{Rules: Implied(sheet, roster), Engine: Version}},
		{At: epoch + 4, Item: capture.Placement{Channel: "dmm/volts", Rail: five.Name, Hold: capture.Clipped}},
	} {
		e.Consume(rec)
	}
	return e
}

func bandNow(t *testing.T, e *Engine, at capture.Instant) capture.Verdict {
	t.Helper()
	e.Consume(capture.Record{At: at, Item: volts("dmm/volts", 5)})
	for _, v := range e.Verdicts() {
		if v.Kind == "band" {
			return v
		}
	}
	t.Fatal("no band")
	return capture.Verdict{}
}

func assumes(v capture.Verdict) bool { return strings.Contains(v.Note, "assumed 23 °C") }

// The room's temperature comes from the channel at point "ambient" or from an
// act; without either 23 °C are assumed, and said.
func TestRoomFromAChannelOrAnAct(t *testing.T) {
	e := roomJob("")
	sec := func(n int) capture.Instant { return epoch.Add(time.Duration(n) * time.Second) }
	celsius := func(v float64) capture.Reading {
		return capture.Reading{Channel: "thermo/celsius", Quantity: capture.Temperature, Value: v, Resolution: 0.1}
	}
	plain := bandNow(t, e, sec(1))
	if !assumes(plain) || !(plain.Uncertainty > 0) {
		t.Fatalf("nothing placed: %+v", plain)
	}
	e.Consume(capture.Record{At: sec(2), Item: capture.Placement{Channel: "thermo/celsius", Point: "stand-in case"}})
	e.Consume(capture.Record{At: sec(3), Item: celsius(48)})
	if v := bandNow(t, e, sec(4)); !assumes(v) || v.Uncertainty != plain.Uncertainty {
		t.Errorf("a case is no room: %+v", v)
	}
	e.Consume(capture.Record{At: sec(5), Item: capture.Placement{Channel: "thermo/celsius", Point: capture.PointAmbient}})
	e.Consume(capture.Record{At: sec(6), Item: celsius(33)})
	if v := bandNow(t, e, sec(7)); assumes(v) || v.Uncertainty <= 2*plain.Uncertainty {
		t.Errorf("33 °C measured: %+v", v)
	}
	e.Consume(capture.Record{At: sec(8), Item: capture.Placement{Channel: "thermo/celsius", Point: "stand-in case"}})
	if v := bandNow(t, e, sec(9)); !assumes(v) {
		t.Errorf("moved away: %+v", v)
	}
	e.Consume(capture.Record{At: sec(10), Item: capture.Act{Verb: capture.ActAmbient, Value: 33}})
	if v := bandNow(t, e, sec(3600)); assumes(v) || v.Uncertainty <= 2*plain.Uncertainty {
		t.Errorf("33 °C typed: %+v", v)
	}
}

func TestOverdueOnTheVerdict(t *testing.T) {
	day := epoch.Time().UTC()
	for due, want := range map[string]bool{day.AddDate(0, 0, -1).Format(time.DateOnly): true, day.Format(time.DateOnly): false} {
		if v := bandNow(t, roomJob(due), epoch.Add(time.Second)); v.Overdue != want || v.Outcome != capture.Pass {
			t.Errorf("due %s: %+v", due, v)
		}
	}
}
