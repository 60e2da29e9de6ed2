package capture_test

import (
	"testing"

	"steadyrail/capture"
)

func TestWhichAlarmsStand(t *testing.T) {
	step := func(from, to capture.AlarmState, muted string) capture.Transition {
		return capture.Transition{From: from, To: to, Muted: muted}
	}
	const fed = "+5 V logic feeds it"
	tests := map[string]struct {
		steps    []capture.Transition
		standing bool
		untold   string
	}{
		"told, went away unheard":        {[]capture.Transition{step(capture.Normal, capture.Active, ""), step(capture.Active, capture.Returned, "")}, true, ""},
		"told, its end was muted":        {[]capture.Transition{step(capture.Normal, capture.Active, ""), step(capture.Active, capture.Returned, "the probe was lifted")}, true, ""},
		"told, latched":                  {[]capture.Transition{step(capture.Normal, capture.Active, ""), step(capture.Active, capture.Latched, "")}, true, ""},
		"told, heard, over":              {[]capture.Transition{step(capture.Normal, capture.Active, ""), step(capture.Active, capture.Returned, ""), step(capture.Returned, capture.Normal, "")}, false, ""},
		"never told, still there":        {[]capture.Transition{step(capture.Normal, capture.Active, fed)}, true, fed},
		"never told, gone":               {[]capture.Transition{step(capture.Normal, capture.Active, fed), step(capture.Active, capture.Returned, fed)}, false, fed},
		"never told, latched":            {[]capture.Transition{step(capture.Normal, capture.Active, fed), step(capture.Active, capture.Latched, "")}, false, fed},
		"told once its cause was over":   {[]capture.Transition{step(capture.Normal, capture.Active, fed), step(capture.Active, capture.Active, ""), step(capture.Active, capture.Returned, "")}, true, ""},
		"told before its cause was seen": {[]capture.Transition{step(capture.Normal, capture.Active, ""), step(capture.Active, capture.Active, fed), step(capture.Active, capture.Returned, fed)}, true, ""},
		"came again and was told":        {[]capture.Transition{step(capture.Normal, capture.Active, fed), step(capture.Active, capture.Returned, fed), step(capture.Returned, capture.Active, ""), step(capture.Active, capture.Returned, "")}, true, ""},
		"nothing known":                  {nil, true, ""},
	}
	for name, c := range tests {
		a := capture.AlarmStory{Transitions: c.steps}
		if a.Standing() != c.standing || a.Untold() != c.untold {
			t.Errorf("%s: standing %v, untold %q", name, a.Standing(), a.Untold())
		}
	}
}
