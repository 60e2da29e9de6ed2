package rules

import (
	"testing"

	"steadyrail/capture"
)

// What is read back once somebody has begun to switch an output off is no trip of
// the supply's own; what is read back before is, and so after it did not go off.
func TestOffByHandIsNotFoundOff(t *testing.T) {
	rule := capture.Rule{Name: "found off supply", Kind: "found off", Rail: five.Name, Severity: capture.Urgent, Against: "supply", Implied: true}
	output := func(text string) capture.Item {
		return capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text}
	}
	found := capture.Act{Verb: capture.ActReadBack, Subject: "supply", Text: "output off, tripped: over-current", By: capture.ByTrip}
	for name, c := range map[string]struct {
		acts  []capture.Item
		comes bool
	}{
		"on":               {[]capture.Item{output("on"), found}, true},
		"about to be off":  {[]capture.Item{output("on"), output(capture.SwitchingOff), found, output("off")}, false},
		"off":              {[]capture.Item{output("on"), output(capture.SwitchingOff), output("off"), found}, false},
		"did not go off":   {[]capture.Item{output("on"), output(capture.SwitchingOff), output(capture.NotConfirmed), found}, true},
		"switched on anew": {[]capture.Item{output(capture.SwitchingOff), output("off"), output("on"), found}, true},
	} {
		log := opening([]capture.Rule{rule}, five)
		for i, act := range c.acts {
			log = append(log, capture.Record{At: at(float64(i + 1)), Item: act})
		}
		transitions, err := Replay(bg, walk(log), 0)
		if came := len(transitions) > 0; err != nil || came != c.comes {
			t.Errorf("%s: alarm %v, want %v (%v)", name, came, c.comes, err)
		}
	}
}
