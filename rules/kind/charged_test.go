package kind

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestOhmmeterCharged: volts behind ohms on a rail that had none are told as the
// ohmmeter's; where nobody looked before, that they may be; behind power, or where
// no ohmmeter gives so much, nothing is.
func TestOhmmeterCharged(t *testing.T) {
	volts := func(s *short, sec, v float64) {
		s.Beside(at(sec), &capture.Reading{Quantity: capture.DCVoltage, Value: v, Resolution: 0.001})
	}
	for name, c := range map[string]struct {
		then func(s *short)
		want string
	}{
		"dead before": {func(s *short) { s.ohmsFor(1, 3, always(4670)); volts(s, 6, 0.52) },
			"0.520 V on the rail, dead before its ohms: the ohmmeter's own current charges it; read its volts until they are below 50 mV, or discharge it"},
		"both at once": {func(s *short) { s.ohmsFor(1, 3, always(4670)); volts(s, 4, 0.52) }, "the ohmmeter's own current charges it"},
		"nobody looked": {func(s *short) { s.Blind(at(0.5)); s.ohmsFor(1, 3, always(4670)); volts(s, 6, 0.52) },
			"0.520 V on the rail, maybe from the ohmmeter's own current; read its volts until"},
		"too much":          {func(s *short) { s.ohmsFor(1, 3, always(4670)); volts(s, 6, 11.8) }, "11.800 V on the rail, discharge it first"},
		"long after":        {func(s *short) { s.ohmsFor(1, 3, always(4670)); volts(s, 80, 0.52) }, "0.520 V on the rail, maybe from the ohmmeter's"},
		"no ohms before it": {func(s *short) { volts(s, 6, 0.52) }, "0.520 V on the rail, maybe from the ohmmeter's"},
		"behind power": {func(s *short) {
			s.ohmsFor(1, 3, always(4670))
			s.Act(at(5), &capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"})
			volts(s, 6, 0.52)
		}, "0.520 V on the rail, discharge it first"},
		"under power": {func(s *short) {
			s.Act(at(0.9), &capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"})
			s.ohmsFor(1, 3, always(4670))
			volts(s, 6, 0.52)
		}, "0.520 V on the rail, discharge it first"},
		"off again": {func(s *short) {
			s.Act(at(0.8), &capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "on"})
			s.Act(at(0.9), &capture.Act{Verb: capture.ActOutput, Subject: "supply/1", Text: "off"})
			s.ohmsFor(1, 3, always(4670))
			volts(s, 6, 0.52)
		}, "0.520 V on the rail, maybe from the ohmmeter's own current; read its volts until"},
	} {
		s := dead(t)
		c.then(s)
		s.ohmsFor(81, 1, always(900))
		if say := s.Verdict().Say; !strings.Contains(say, c.want) {
			t.Errorf("%s: %q, want %q", name, say, c.want)
		}
	}
}
