package trend

import (
	"math"

	"steadyrail/capture/elementary"
)

// Exponential is the law y(x) = Level + Amplitude·exp(-(x-x0)/Tau), fitted to a
// series, x0 being its first x. The standard uncertainties are those of
// independent residuals widened by sqrt(n/n_eff). A good fit proves nothing about
// a slower part that the series has not shown yet: see [Foretell].
type Exponential struct {
	Level, Amplitude, Tau float64 // Tau in the unit of x
	ULevel, UTau          float64
	Residual              float64 // standard deviation of the residuals
	Lag1                  float64 // their autocorrelation
	Effective             float64 // how many readings count as independent
	Span                  float64 // of x
	N                     int
}

// At returns the law's value at x, counted from the first x of the series.
func (e Exponential) At(x float64) float64 {
	return e.Level + float64(e.Amplitude*elementary.Exp(-x/e.Tau))
}

// longestTau is the longest time constant, in spans, that is told from a
// straight line.
const longestTau = 20

// FitExponential fits the law to x in rising order. It reports false for fewer
// than five points and where no decay can be made out: a straight line, noise
// without one, or a bend the wrong way.
func FitExponential(x, y []float64) (Exponential, bool) {
	n := min(len(x), len(y))
	if n < 5 || !(x[n-1] > x[0]) {
		return Exponential{}, false
	}
	// From the first point and in spans: the figures are then of one size.
	span, t, v := x[n-1]-x[0], make([]float64, n), make([]float64, n)
	for i := range n {
		t[i], v[i] = (x[i]-x[0])/span, y[i]-y[0]
	}
	start, ok := startOf(t, v)
	if !ok {
		return Exponential{}, false
	}
	f, err := FitCurve(v, start, approachModel(t))
	// Residuals that are the rounding of x or y have no optimum to converge to.
	rounding := float64(1e-15*math.Abs(y[0])) + float64((1e-13+1e-15*math.Abs(x[n-1])/span)*norm(v))
	if err != nil || !f.Converged && f.Residual > rounding {
		return Exponential{}, false
	}
	return exponentialOf(f, y[0], span)
}

// exponentialOf brings a fit of unit span back to the units of the series.
func exponentialOf(f Fit, origin, span float64) (Exponential, bool) {
	e := Exponential{
		Level: origin + f.B[0], Amplitude: f.B[1], Tau: float64(span * elementary.Exp(f.B[2])),
		Residual: f.Residual, Lag1: f.Lag1, Effective: Effective(f.N, f.Lag1), Span: span, N: f.N,
	}
	widen := math.Sqrt(float64(f.N) / e.Effective)
	e.ULevel, e.UTau = float64(f.SE[0]*widen), float64(e.Tau*float64(f.SE[2]*widen))
	return e, e.Tau <= longestTau*span
}

// approachModel has the parameters level, amplitude and the logarithm of the time
// constant, which keeps the constant above nought.
func approachModel(t []float64) Model {
	return func(i int, b, slope []float64) float64 {
		part := t[i] / elementary.Exp(b[2])
		decay := elementary.Exp(-part)
		slope[0], slope[1], slope[2] = 1, decay, float64(b[1]*float64(decay*part))
		return b[0] + float64(b[1]*decay)
	}
}

// startOf tries time constants from a 64th of the span to eight spans: for each
// the law is a straight line in exp(-t/τ). The best is the start.
func startOf(t, v []float64) (b []float64, ok bool) {
	best, decay := math.Inf(1), make([]float64, len(t))
	for power := -6; power <= 3; power++ {
		tau := math.Ldexp(1, power)
		for i, at := range t {
			decay[i] = elementary.Exp(-at / tau)
		}
		if l, fits := FitLine(decay, v); fits && l.Residual < best {
			best, b, ok = l.Residual, []float64{l.Intercept, l.Slope, elementary.Log(tau)}, true
		}
	}
	return b, ok
}
