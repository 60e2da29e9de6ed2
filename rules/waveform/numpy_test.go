package waveform

import (
	"encoding/json"
	"os"
	"testing"
)

// made by testdata/make.py with scipy's simulation and worked out there with numpy.
type worked struct {
	Name, Kind                             string
	Within                                 float64
	Times, Values                          []float64
	Low, High, Rise, Over, Under, Back     float64
	Settled, Before, After, Away, Recovery float64
	Ripple, RMS, Mean, Least               float64
}

func TestAgainstNumpy(t *testing.T) {
	data, err := os.ReadFile("testdata/captures.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []worked
	if err := json.Unmarshal(data, &list); err != nil || len(list) < 4 {
		t.Fatal(err, len(list))
	}
	for _, w := range list {
		t.Run(w.Name, func(t *testing.T) { compare(t, w) })
	}
}

func compare(t *testing.T, w worked) {
	tr := Trace{Times: w.Times, Values: w.Values}
	count := tr.Times[1] - tr.Times[0]
	switch w.Kind {
	case "start":
		s, err := tr.Start(w.Within)
		if err != nil {
			t.Fatal(err)
		}
		// The outermost classes' edges and the half weight of the first and last
		// sample are the whole difference.
		near(t, "low", s.Low, w.Low, 2e-3)
		near(t, "high", s.High, w.High, 2e-3)
		near(t, "rise", s.Rise, w.Rise, 0.02*count)
		near(t, "over", s.Over, w.Over, 2e-3)
		near(t, "under", s.Under, w.Under, 2e-3)
		near(t, "back", s.Back, w.Back, 1e-9)
		near(t, "settled", s.Settled, w.Settled, count)
		near(t, "ripple", s.Tail.Peak, w.Ripple, 2e-3)
		near(t, "rms", s.Tail.RMS, w.RMS, 1e-3)
	case "step":
		s, err := tr.Step(w.Within)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "before", s.Before, w.Before, 1e-3)
		near(t, "after", s.After, w.After, 1e-3)
		near(t, "away", s.Away(), w.Away, 1e-3)
		near(t, "recovery", s.Recovery, w.Recovery, count)
	case "steady":
		s, err := tr.Steady()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "mean", s.Mean, w.Mean, 1e-4)
		near(t, "ripple", s.Peak, w.Ripple, 1e-12)
		near(t, "rms", s.RMS, w.RMS, 1e-4)
		near(t, "least", s.Least, w.Least, 1e-12)
	default:
		t.Fatalf("what is %q?", w.Kind)
	}
}
