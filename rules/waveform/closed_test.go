package waveform

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// made samples a function of time at a rate, from and to seconds.
func made(from, to, rate float64, f func(float64) float64) Trace {
	var t Trace
	for i := 0; ; i++ {
		at := from + float64(i)/rate
		if at > to {
			return t
		}
		t.Times, t.Values = append(t.Times, at), append(t.Values, f(at))
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, within)
	}
}

// v = V(1 − exp(−t/RC)): 10 to 90 % takes RC ln 9, no overshoot, no step back, and
// it is within a part p of its end after RC ln(0.9/p) from its 10 % level.
func TestRiseOfAnRC(t *testing.T) {
	const rc, volts = 2e-3, 5.0
	tr := made(-2e-3, 60e-3, 50e3, func(at float64) float64 {
		if at < 0 {
			return 0
		}
		return volts * (1 - math.Exp(-at/rc))
	})
	s, err := tr.Start(0.1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", s.Low, 0, 0.02)
	near(t, "high", s.High, volts, 0.01)
	near(t, "rise", s.Rise, rc*math.Log(9), 0.01*rc)
	near(t, "overshoot", s.OverPart(), 0, 0.002)
	near(t, "back", s.Back, 0, 1e-12)
	near(t, "settled", s.Settled, rc*math.Log(0.9/0.02), 0.2*rc)
	near(t, "damping", s.Damping(), 1, 0.2)
}

// A damped second order goes over by exp(−πζ/√(1−ζ²)), first under by its square,
// and its damping can be told from that.
func TestOvershootOfASecondOrder(t *testing.T) {
	const wn, volts = 2 * math.Pi * 1e3, 5.0
	for _, zeta := range []float64{0.2, 0.3, 0.45, 0.6, 0.707} {
		root := math.Sqrt(1 - zeta*zeta)
		tr := made(-1e-3, 20e-3, 1e6, func(at float64) float64 {
			if at < 0 {
				return 0
			}
			return volts * (1 - math.Exp(-zeta*wn*at)*(math.Cos(wn*root*at)+zeta/root*math.Sin(wn*root*at)))
		})
		s, err := tr.Start(0.02 * volts)
		if err != nil {
			t.Fatal(err)
		}
		p := math.Exp(-math.Pi * zeta / root)
		near(t, "overshoot", s.OverPart(), p, 0.002)
		near(t, "undershoot", s.Under/s.Amplitude(), p*p, 0.002)
		near(t, "damping", s.Damping(), zeta, 0.01)
		near(t, "back", s.Back, 0, 1e-9)
		// The envelope exp(−ζωt)/√(1−ζ²) is inside 2 % after this; the wave cannot be later.
		if latest := -math.Log(0.02*root) / (zeta * wn); s.Settled > latest {
			t.Errorf("ζ %g: settled after %g s, its envelope after %g s", zeta, s.Settled, latest)
		}
	}
}

// A triangle of p peak to peak has p/√12 RMS, a sine p/√8, a square half.
func TestRippleOfKnownForms(t *testing.T) {
	const p, f = 0.04, 1e3
	for name, c := range map[string]struct {
		form func(float64) float64
		rms  float64
	}{
		"triangle": {func(x float64) float64 { return 2*math.Abs(2*(x-math.Floor(x+0.5))) - 1 }, p / math.Sqrt(12)},
		"sine":     {func(x float64) float64 { return math.Sin(2 * math.Pi * x) }, p / math.Sqrt(8)},
		"square":   {func(x float64) float64 { return math.Copysign(1, 0.5-(x-math.Floor(x))) }, p / 2},
	} {
		tr := made(0, 20e-3, 1e6, func(at float64) float64 { return 5 + p/2*c.form(f*at) })
		s, err := tr.Steady()
		if err != nil {
			t.Fatal(err)
		}
		near(t, name+" peak to peak", s.Peak, p, 0.002*p)
		near(t, name+" RMS", s.RMS, c.rms, 0.002*p)
		near(t, name+" mean", s.Mean, 5, 1e-4)
		near(t, name+" valley", s.Least, 5-p/2, 0.002*p)
	}
}

// A trapezoid rises by its slope: 10 to 90 % takes 0.8 of the ramp, whatever the
// sampling, to less than a sample.
func TestTrapezoidBetweenItsSamples(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ramp := rapid.Float64Range(1e-3, 9e-3).Draw(t, "ramp")
		rate := rapid.Float64Range(3e3, 3e5).Draw(t, "rate")
		low := rapid.Float64Range(-0.2, 0.2).Draw(t, "low")
		volts := rapid.Float64Range(1, 15).Draw(t, "volts")
		tr := made(-10e-3, 30e-3, rate, func(at float64) float64 { return low + volts*min(1, max(0, at/ramp)) })
		s, err := tr.Start(0.01 * volts)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(s.Rise - 0.8*ramp); d > 0.01*ramp+0.5/rate {
			t.Fatalf("10 to 90 %% in %g s, the ramp's is %g s", s.Rise, 0.8*ramp)
		}
		if math.Abs(s.High-low-volts) > 0.006*volts || math.Abs(s.Low-low) > 0.006*volts || s.Back != 0 || s.Over > 0.006*volts {
			t.Fatalf("%+v", s)
		}
	})
}

// A rise that steps back is told by how much, and where.
func TestStepBackOnTheRise(t *testing.T) {
	tr := made(-1e-3, 20e-3, 100e3, func(at float64) float64 {
		v := 5 * min(1, max(0, at/8e-3))
		if at > 4e-3 && at < 5e-3 {
			v -= 0.7
		}
		return v
	})
	s, err := tr.Start(0.1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "back", s.Back, 0.7, 0.02)
	near(t, "where", s.BackAt, 4e-3, 0.1e-3)
}

// A load step: the level falls by ΔI·R at once and comes back with a time
// constant; it is within w after τ ln(ΔV/w).
func TestRecoveryOfALoadStep(t *testing.T) {
	const dip, tau = 0.4, 0.5e-3
	tr := made(-1e-3, 9e-3, 1e6, func(at float64) float64 {
		if at < 0 {
			return 5.02
		}
		return 5.00 - dip*math.Exp(-at/tau)
	})
	s, err := tr.Step(0.05)
	if err != nil || !s.Seen {
		t.Fatal(err, s)
	}
	near(t, "before", s.Before, 5.02, 1e-9)
	near(t, "after", s.After, 5.00, 1e-4)
	near(t, "away", s.Away(), dip+0.02, 1e-3)
	near(t, "recovery", s.Recovery, tau*math.Log(dip/0.05), 3e-6)
	near(t, "at", s.At, 0, 2e-6)
}

// What a capture does not show is an error, never a figure.
func TestWhatIsNotShown(t *testing.T) {
	flat := made(0, 1e-3, 1e6, func(float64) float64 { return 5 })
	if _, err := flat.Start(0.1); !errors.Is(err, ErrShape) {
		t.Error("a flat line has a start:", err)
	}
	if s, err := flat.Step(0.1); err != nil || s.Seen || s.Recovery != 0 {
		t.Error("a flat line answers to a step:", err, s)
	}
	up := made(0, 1e-3, 1e6, func(at float64) float64 { return 5 - 4*math.Exp(-at/1e-4) })
	up = up.Part(300, len(up.Values))
	if s, err := up.Start(0.1); err == nil && s.Low < 4 {
		t.Errorf("what was up before is a start: %+v", s)
	}
	ramp := made(0, 1e-3, 1e6, func(at float64) float64 { return 5000 * at })
	if s, err := ramp.Start(0.001); err == nil && !math.IsInf(s.Settled, 1) {
		t.Errorf("a ramp without an end is settled after %g s", s.Settled)
	}
	if _, err := ramp.Step(0.001); !errors.Is(err, ErrShape) {
		t.Error("a ramp is settled:", err)
	}
	for name, tr := range map[string]Trace{
		"empty":     {},
		"few":       made(0, 5e-6, 1e6, math.Sin),
		"not equal": {Times: make([]float64, 20), Values: make([]float64, 19)},
		"standing":  {Times: make([]float64, 20), Values: make([]float64, 20)},
		"NaN":       made(0, 1e-3, 1e5, func(float64) float64 { return math.NaN() }),
		"huge":      made(0, 1e-3, 1e5, func(at float64) float64 { return math.Copysign(math.MaxFloat64, at-5e-4) }),
	} {
		if _, err := tr.Steady(); !errors.Is(err, ErrShape) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Turned over and shifted in time it has the same shape.
func TestSizedAndShifted(t *testing.T) {
	tr := made(0, 20e-3, 50e3, func(at float64) float64 { return -12 * (1 - math.Exp(-max(0, at-2e-3)/1e-3)) })
	a, err := tr.Sized(true).Start(0.2)
	if err != nil {
		t.Fatal(err)
	}
	for i := range tr.Times {
		tr.Times[i] += 7
	}
	b, err := tr.Sized(true).Start(0.2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "high", a.High, 12, 0.05)
	near(t, "rise", b.Rise, a.Rise, 1e-12)
}

// A capture that ends as the rail comes back into its band does not show that it
// stays there.
func TestStartThatEndsTooEarly(t *testing.T) {
	for tail, settled := range map[int]bool{1: false, fewest/2 - 1: false, fewest / 2: true} {
		tr := made(0, 399, 1, func(at float64) float64 {
			switch i := int(at); {
			case i < 100:
				return 0
			case i >= 300 && i < 400-tail:
				return 4
			}
			return 5
		})
		s, err := tr.Start(0.6)
		if err != nil {
			t.Fatal(err)
		}
		if got := !math.IsInf(s.Settled, 1); got != settled || s.Tail.Mean != s.Tail.Mean {
			t.Errorf("%d samples in the band: settled %v, %+v", tail, got, s.Tail)
		}
	}
}
