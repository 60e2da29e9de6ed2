package trend

import "math"

// Line is a straight line through points by least squares, with the standard
// deviations that independent, equal errors in y would give.
type Line struct {
	N         int
	Slope     float64
	Intercept float64 // at x = 0
	SDSlope   float64
	SDAtZero  float64
	Residual  float64 // standard deviation about the line (divisor n-2)
	Lag1      float64 // autocorrelation of the residuals
	MeanX     float64
	MeanY     float64
}

// FitLine fits a line to at least two points with different x; it reports false
// otherwise. With two points the standard deviations are 0: not known.
func FitLine(x, y []float64) (Line, bool) {
	n := min(len(x), len(y))
	if n < 2 {
		return Line{}, false
	}
	var mx, my Moments
	for i := range n {
		mx.Add(x[i])
		my.Add(y[i])
	}
	l := Line{N: n, MeanX: mx.Mean(), MeanY: my.Mean()}
	var sxx, sxy float64
	for i := range n {
		dx := x[i] - l.MeanX
		sxx += float64(dx * dx)
		sxy += float64(dx * (y[i] - l.MeanY))
	}
	if !(sxx > 0) {
		return Line{}, false
	}
	l.Slope = sxy / sxx
	l.Intercept = l.MeanY - float64(l.Slope*l.MeanX)
	l.residuals(x[:n], y[:n], sxx)
	return l, true
}

func (l *Line) residuals(x, y []float64, sxx float64) {
	var res Moments
	var ss float64
	for i := range x {
		r := y[i] - l.MeanY - float64(l.Slope*(x[i]-l.MeanX))
		ss += float64(r * r)
		res.Add(r)
	}
	l.Lag1 = res.Lag1()
	if l.N < 3 {
		return
	}
	l.Residual = math.Sqrt(ss / float64(l.N-2))
	l.SDSlope = l.Residual / math.Sqrt(sxx)
	l.SDAtZero = l.Residual * math.Sqrt(1/float64(l.N)+float64(l.MeanX*l.MeanX)/sxx)
}

// SDSlopeCorrelated widens SDSlope by what the residuals' autocorrelation
// costs: sqrt(n/n_eff).
func (l Line) SDSlopeCorrelated() float64 {
	return float64(l.SDSlope * math.Sqrt(float64(l.N)/Effective(l.N, l.Lag1)))
}
