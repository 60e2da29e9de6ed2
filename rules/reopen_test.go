package rules

import (
	"testing"

	"steadyrail/capture"
)

// A job that was closed and is opened again is watched as before: it gets ticks,
// and its rules raise alarms; between, neither.
func TestJobThatIsOpenedAgain(t *testing.T) {
	rule := capture.Rule{Name: "band", Kind: "band", Rail: five.Name, Bounds: five.Bounds}
	log := append(opening([]capture.Rule{rule}, five),
		capture.Record{At: at(1), Item: volts("dmm/volts", 5)},
		capture.Record{At: at(2), Item: capture.Act{Verb: capture.ActClose}},
		capture.Record{At: at(3), Item: volts("dmm/volts", 6)},
		capture.Record{At: at(10), Item: capture.Act{Verb: capture.ActOpen}},
		capture.Record{At: at(11), Item: volts("dmm/volts", 6.5)})
	e := New("")
	var between, after int
	var told []capture.Transition
	f := feeder{take: func(rec capture.Record) {
		if _, tick := rec.Item.(capture.Tick); tick && rec.At > at(10) {
			after++
		} else if tick && rec.At > at(2) {
			between++
		}
		told = append(told, e.Consume(rec).Transitions...)
	}}
	for _, rec := range log {
		if err := f.feed(bg, rec); err != nil {
			t.Fatal(err)
		}
	}
	if len(told) != 1 || told[0].At != at(11) || told[0].Value != 6.5 || !told[0].To.IsActive() {
		t.Errorf("told %+v", told)
	}
	if between != 0 || after != 10 {
		t.Errorf("%d ticks while it was closed, %d in the second after", between, after)
	}
}
