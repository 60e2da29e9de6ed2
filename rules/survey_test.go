package rules

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// surveyOf reads a rail every second for some minutes, with 1 mV of noise.
func surveyOf(minutes int, falls []capture.Gap, off func(capture.Instant) bool, f func(minute float64) float64) *survey {
	if off == nil {
		off = func(capture.Instant) bool { return false }
	}
	s := &survey{off: off, falls: falls, tell: trend.NewSurvey()}
	rng := rand.New(rand.NewPCG(9, 9))
	for i := range minutes * 60 {
		r := volts("dmm/volts", f(float64(i)/60)+0.001*rng.NormFloat64())
		r.Resolution = 1e-5
		s.read(epoch.Add(time.Duration(i)*time.Second), &r)
	}
	return s
}

func TestSurveySays(t *testing.T) {
	calm := func(float64) float64 { return 5 }
	for _, c := range []struct {
		name    string
		minutes int
		f       func(float64) float64
		want    []string
	}{
		{"calm", 120, calm, []string{"No movement is seen beyond chance: at most ", "no wandering is seen", "no lasting shift is seen"}},
		{"a drift", 120, func(m float64) float64 { return 5 - 1e-4*m }, []string{"It moves downwards: chance alone does as much in fewer than 1 of 100", "a steady drift takes over", "A steady series does so in about 12 of 100"}},
		{"a step", 120, func(m float64) float64 { return map[bool]float64{true: 5.002, false: 5}[m > 100] }, []string{"a control chart first left its limits"}},
		{"little", 0, calm, nil},
		{"half a minute", 1, calm, []string{"Watched too short to tell whether it moves."}},
	} {
		s := surveyOf(c.minutes, nil, nil, c.f)
		if c.minutes == 1 {
			s = surveyOf(1, []capture.Gap{{From: epoch.Add(30 * time.Second)}}, nil, c.f)
		}
		said := ""
		for _, tr := range s.told("dmm/volts") {
			said += strings.Join(tr.Say, " ")
		}
		for _, want := range c.want {
			if !strings.Contains(said, want) {
				t.Errorf("%s: does not say %q but %q", c.name, want, said)
			}
		}
		if c.want == nil && said != "" {
			t.Errorf("%s: says %q", c.name, said)
		}
	}
}

// What was read while the rail was down or switched off is no trend.
func TestSurveyLeavesFallsOut(t *testing.T) {
	falls := []capture.Gap{{From: epoch.Add(10 * time.Minute), To: epoch.Add(12 * time.Minute)}}
	off := func(at capture.Instant) bool {
		return at >= epoch.Add(20*time.Minute) && at < epoch.Add(25*time.Minute)
	}
	s := surveyOf(60, falls, off, func(m float64) float64 {
		if m >= 10 && m <= 12 || m >= 20 && m < 25 {
			return 1
		}
		return 5
	})
	tr := s.told("dmm/volts")
	if len(tr) != 1 || tr[0].N != 3600-121-300 || tr[0].SD > 0.002 || tr[0].Low < 4.99 || tr[0].Blocks == 0 || len(tr[0].Curve) == 0 {
		t.Fatalf("%+v", tr)
	}
	var none *survey
	none.read(epoch, &capture.Reading{})
	if none.told("dmm/volts") != nil {
		t.Error("nothing that was watched tells something")
	}
}
