package kind

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestColdCheckVoidedByPowerAlone: limits, a switching off and a read-back of an
// output that is off energise nothing; where it is not known to be off, or may be on,
// the worse is taken.
func TestColdCheckVoidedByPowerAlone(t *testing.T) {
	out := func(text string) capture.Act {
		return capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: text}
	}
	limits := capture.Act{Verb: capture.ActLimits, Subject: "supply/1", Text: "volts 24, amperes 1"}
	whileOff := limits
	whileOff.Text = capture.WhileOff(limits.Text)
	read := func(text string) capture.Act {
		return capture.Act{Verb: capture.ActReadBack, Subject: "supply/1", Text: text}
	}
	for name, c := range map[string]struct {
		acts []capture.Act
		why  string // "": it stands
	}{
		"limits while off":                 {[]capture.Act{whileOff}, ""},
		"limits, nobody asked":             {[]capture.Act{limits}, "supply/1 was set"},
		"limits while off, then off":       {[]capture.Act{read("output off"), whileOff, out("switching off"), out("off")}, ""},
		"off, nobody knows":                {[]capture.Act{out("switching off"), out("off")}, "supply/1 may have been on"},
		"on":                               {[]capture.Act{whileOff, out("on")}, "supply/1 was switched on"},
		"off not confirmed":                {[]capture.Act{read("output off"), out("not confirmed off")}, "supply/1 may have been on"},
		"read back as off, then limits":    {[]capture.Act{read("output off"), limits}, ""},
		"found off":                        {[]capture.Act{read(capture.WithTripped("output off", capture.OverCurrent))}, "supply/1 may have been on"},
		"all of it off, then one's limits": {[]capture.Act{read("output off"), {Verb: capture.ActOutput, Subject: "supply", Text: "off"}, limits}, ""},
		"another output off":               {[]capture.Act{{Verb: capture.ActReadBack, Subject: "supply/2", Text: "output off"}, limits}, "supply/1 was set"},
		"one off, then all of it":          {[]capture.Act{read("output off"), {Verb: capture.ActOutput, Subject: "supply", Text: "switching off"}}, "supply may have been on"},
		"its link lost since":              {[]capture.Act{read("output off"), {Verb: capture.ActLinkLost, Subject: "supply"}, limits}, "supply/1 was set"},
		"read back as on":                  {[]capture.Act{read("output off"), read("output on"), limits}, "supply/1 was set"},
	} {
		s := dead(t)
		s.ohmsFor(1, 3, always(4670))
		for i, act := range c.acts {
			s.Act(at(5+float64(i)), &act)
		}
		got := s.held.why
		if got != c.why || s.dead != (c.why == "") {
			t.Errorf("%s: %q, dead %v", name, got, s.dead)
		}
	}
	s := dead(t)
	s.ohmsFor(1, 3, always(4670))
	s.Act(at(5), &whileOff)
	s.Blind(at(6)) // nobody was there
	s.Act(at(7), &limits)
	if !strings.Contains(s.held.why, "was set") {
		t.Errorf("after a gap: %q", s.held.why)
	}
}
