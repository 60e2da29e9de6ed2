package rules

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// Judging a reading takes no memory in the steady state, with ten rules on the
// rail, a meter that changes with the room, and the room's temperature known.
// Words are made anew now and then, so it is the average that is nothing.
func TestJudgingAReadingTakesNoMemory(t *testing.T) {
	volt := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond,
		Accuracy: []capture.Accuracy{{Range: 10, OfReading: 0.00015, Resolution: 0.001, PerKelvin: 1e-5}}}
	room := capture.ChannelInfo{ID: "air/degrees", Quantity: capture.Temperature, Every: time.Second}
	e := New("")
	other := five
	other.Name = "other"
	for i, item := range []capture.Item{
		capture.Sheet{Rails: []capture.Rail{five, other}}, capture.Roster{Instruments: []capture.InstrumentInfo{{Channels: []capture.ChannelInfo{volt, room}}}},
		capture.RuleSet{Rules: tenRules(five, other.Name)}, capture.Act{Verb: capture.ActStage, Stage: capture.Soak},
		capture.Placement{Channel: volt.ID, Rail: five.Name, Hold: capture.Clipped}, capture.Placement{Channel: room.ID, Point: capture.PointAmbient, Hold: capture.Clipped},
		capture.Reading{Channel: room.ID, Quantity: capture.Temperature, Value: 31},
	} {
		e.Consume(capture.Record{At: epoch + capture.Instant(i), Item: item})
	}
	now, turn := epoch+100, 0
	readings := []capture.Item{volts("dmm/volts", 5.001), volts("dmm/volts", 4.999), volts("dmm/volts", 5.002)}
	read := func() {
		now, turn = now+250, turn+1
		e.Consume(capture.Record{At: now, Item: readings[turn%len(readings)]})
	}
	for range 5000 {
		read()
	}
	if got := testing.AllocsPerRun(20_000, read); got != 0 {
		t.Errorf("%v allocations for each reading, want none", got)
	}
	if v := e.Verdicts(); len(v) != 10 || v[2].Note != "" || v[2].Uncertainty == 0 {
		t.Errorf("%d verdicts, the band's is %+v: the room at 31 °C is known and counts", len(v), v[2])
	}
}
