package rules

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// stepped follows one step of a plan with readings each 0.2 s as a function of the
// second says; what it returns is the verdict when the step is so long.
func stepped(t *testing.T, plan capture.Regimen, step int, seconds float64, value func(s float64) float64, between ...capture.Record) string {
	t.Helper()
	log := opening(nil, five)
	dmm := log[1].Item.(capture.Roster).Instruments[0].Channels
	dmm[0].Accuracy = []capture.Accuracy{{Range: 10, OfReading: 0.0005, Resolution: 0.001, Digits: 2}}
	log = append(log,
		capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActRegimen, Text: plan.Text()}},
		capture.Record{At: at(0.8), Item: capture.Act{Verb: capture.ActSoakStep, Value: float64(step), Text: capture.StepBegun, By: capture.ByPlan}})
	var s StepMeans
	for _, rec := range log {
		s.Consume(rec)
	}
	for sec := 1.0; sec < seconds; sec += 0.2 {
		for len(between) > 0 && between[0].At <= at(sec) {
			s.Consume(between[0])
			between = between[1:]
		}
		s.Consume(capture.Record{At: at(sec) + 13, Item: volts("dmm/volts", value(sec))})
	}
	return strings.ReplaceAll(s.Say(), "\u00a0", " ")
}

func TestLevelsOfAStep(t *testing.T) {
	plan := capture.Regimen{For: 900, Cycles: 1, On: 300, Off: 60, Output: "supply"}
	const off, on, soak = 1, 2, 3
	steady := func(float64) float64 { return 5.004 }
	rising := func(s float64) float64 { // comes up in the time that is left out
		if s < 9 {
			return 0.5 * s
		}
		return 5.004
	}
	late := func(s float64) float64 {
		if s > 61.1 {
			return 4.8
		}
		return 5.004
	}
	gap := capture.Record{At: at(50), Item: capture.Gap{From: at(45), To: at(50)}}
	for name, c := range map[string]struct {
		step    int
		seconds float64
		value   func(float64) float64
		between []capture.Record
		want    string
	}{
		"soaking":         {soak, 130, steady, nil, five.Name + " worst of 2 means over a minute 5.004 V ± 5.2 mV (k = 2), inside the band"},
		"comes up":        {on, 130, rising, nil, five.Name + " mean over a minute 5.004 V ± 5.2 mV (k = 2), inside the band"},
		"the worst":       {soak, 130, late, nil, five.Name + " worst of 2 means over a minute 4.8"},
		"too short":       {soak, 40, steady, nil, "too short for a mean over a minute"},
		"barely up":       {on, 9, rising, nil, "too short for a mean over a minute"}, // not a word of nothing
		"cut by a gap":    {soak, 105, steady, []capture.Record{gap}, "too short for a mean over a minute"},
		"power off":       {off, 130, steady, nil, ""},
		"no such step":    {7, 130, steady, nil, ""},
		"after a new one": {soak, 130, steady, []capture.Record{{At: at(128), Item: capture.Act{Verb: capture.ActSoakStep, Value: soak, Text: capture.StepBegun}}}, "too short for a mean over a minute"},
	} {
		got := stepped(t, plan, c.step, c.seconds, c.value, c.between...)
		if !strings.HasPrefix(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%s: %q", name, got)
		}
		if strings.HasPrefix(name, "the worst") && !strings.HasSuffix(got, "outside the band") {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// A fall gives its window up, and nothing counts until the rail is back.
func TestLevelsWithoutAFall(t *testing.T) {
	var s StepMeans
	for _, rec := range opening(nil, five) {
		s.Consume(rec)
	}
	s.Consume(capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActRegimen, Text: capture.Regimen{For: 900}.Text()}})
	s.Consume(capture.Record{At: at(0.8), Item: capture.Act{Verb: capture.ActSoakStep, Value: 1, Text: capture.StepBegun}})
	fall := capture.Transition{Alarm: "a", Kind: "collapse", Rail: five.Name, To: capture.Active}
	for sec := 1.0; sec < 200; sec++ {
		v := 5.0
		switch {
		case sec == 40:
			s.Fell(fall)
		case sec == 80:
			fall.From, fall.To = capture.Active, capture.Normal
			s.Fell(fall)
		}
		if sec >= 40 && sec < 80 {
			v = 1
		}
		s.Consume(capture.Record{At: at(sec), Item: volts("dmm/volts", v)})
	}
	if got := s.Say(); !strings.Contains(got, "5") || strings.Contains(got, "outside") || !strings.Contains(got, "mean over a minute") || strings.Contains(got, "too short") {
		t.Errorf("%q", got)
	}
}
