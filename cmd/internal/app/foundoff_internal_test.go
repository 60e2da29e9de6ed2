package app

import (
	"testing"

	"steadyrail/capture"
)

// Somebody switches an output off, or off and on again, while it is asked how it is:
// the answer is of before, and the command wins.
func TestACommandWinsOverAnAnswerFromBefore(t *testing.T) {
	switched := func(subject, text string) capture.Record {
		return capture.Record{Item: capture.Act{Verb: capture.ActOutput, Subject: subject, Text: text}}
	}
	for name, c := range map[string]struct {
		meanwhile []capture.Record
		stands    bool
	}{
		"nobody did anything":  {nil, true},
		"another output":       {[]capture.Record{switched("psu/2", capture.SwitchingOff)}, true},
		"about to be off":      {[]capture.Record{switched("psu/1", capture.SwitchingOff)}, false},
		"off and on again":     {[]capture.Record{switched("psu/1", capture.SwitchingOff), switched("psu/1", "off"), switched("psu/1", "on")}, false},
		"all of its outputs":   {[]capture.Record{switched("psu", "off")}, false},
		"on, though it was on": {[]capture.Record{switched("psu/1", "on")}, false},
	} {
		j := new(openJob)
		j.outputs.Consume(switched("psu/1", "on"))
		turn, _ := j.turn("psu/1")
		for _, rec := range c.meanwhile {
			j.outputs.Consume(rec)
		}
		if j.onSince("psu/1", turn) != c.stands {
			t.Errorf("%s: the answer stands: %v", name, !c.stands)
		}
	}
}
