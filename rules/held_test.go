package rules

import (
	"testing"
	"time"

	"steadyrail/capture"
)

// What a rule is held against is described by the roster, and when either of the
// two instruments is overdue the verdict is.
func TestRiseIsJudgedByTheRosterOfBoth(t *testing.T) {
	of := func(id capture.ChannelID, accuracy ...capture.Accuracy) capture.ChannelInfo {
		return capture.ChannelInfo{ID: id, Quantity: capture.Temperature, Every: time.Second, Accuracy: accuracy}
	}
	stated := capture.Accuracy{Range: 100, OfReading: 0.005, Digits: 1, Resolution: 0.1}
	roster := func(due string, air ...capture.Accuracy) capture.Roster {
		return capture.Roster{Instruments: []capture.InstrumentInfo{
			{Name: "thermo", Channels: []capture.ChannelInfo{of("thermo/sink", stated)}, CalibrationDue: "2999-01-01"},
			{Name: "room", Channels: []capture.ChannelInfo{of("room/air", air...)}, CalibrationDue: due},
		}}
	}
	rule := capture.Rule{Name: "hot", Kind: "hot", Rail: five.Name, Of: "thermo/sink", Against: "room/air"}
	e, now := New(""), epoch
	take := func(items ...capture.Item) {
		for _, item := range items {
			now += 100_000
			e.Consume(capture.Record{At: now, Item: item})
		}
	}
	read := func() capture.Verdict {
		warm := capture.Reading{Channel: "thermo/sink", Quantity: capture.Temperature, Value: 69, Resolution: 0.1, Range: 100}
		air := capture.Reading{Channel: "room/air", Quantity: capture.Temperature, Value: 25, Resolution: 0.1, Range: 100}
		take(air, warm, capture.Tick{}, warm)
		return e.Verdicts()[0]
	}
	take(capture.Sheet{Rails: []capture.Rail{five}}, roster("2999-01-01"), capture.RuleSet{Rules: []capture.Rule{rule}}, capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
	if v := read(); !v.Indicated || v.Overdue || v.Outcome != capture.Pass {
		t.Errorf("the room's sensor has no stated accuracy: %+v", v)
	}
	take(roster("1999-01-01", stated))
	if v := read(); v.Indicated || !v.Overdue || v.Uncertainty == 0 {
		t.Errorf("stated, and overdue: %+v", v)
	}
}
