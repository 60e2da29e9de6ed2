package trend

import (
	"errors"
	"math"
)

// Fit is a model fitted by least squares, with the standard errors that
// independent, equal errors in y would give (for a curve: of the model made
// linear at the optimum).
type Fit struct {
	B         []float64 // parameters
	SE        []float64 // their standard errors
	Residual  float64   // standard deviation about the model (divisor N less parameters)
	Squares   float64   // sum of squares of the residuals
	Lag1      float64   // autocorrelation of the residuals
	N         int
	Steps     int
	Converged bool // closer to the optimum than a millionth of the standard errors, or all residuals are rounding
}

// What a fit may refuse.
var (
	// ErrTooFew is returned for no more points than parameters.
	ErrTooFew = errors.New("no more points than parameters: take more readings")
	// ErrSingular is returned when parameters cannot be told apart.
	ErrSingular = errors.New("the points do not tell the parameters apart: leave one out")
	// ErrNotFinite is returned for a model or a series that is not finite at
	// the start.
	ErrNotFinite = errors.New("a figure is not finite where the fit starts: start elsewhere")
)

// A Model returns its value at point i for the parameters b, and writes its
// derivatives with respect to them into slope.
type Model func(i int, b, slope []float64) float64

const (
	mostSteps  = 2000
	nearEnough = 1e-6 // of the standard errors: see [Fit.Converged]
	nearest    = 1e-10
)

// FitCurve fits a model by the method of Levenberg and Marquardt: damped
// Gauss-Newton steps scaled by the lengths of the columns (Marquardt, J. SIAM 11
// (1963) 431; Moré, Lecture Notes in Mathematics 630 (1978) 105), each solved by
// QR, the damping as Nielsen has it (Madsen, Nielsen and Tingleff, Methods for
// Non-Linear Least Squares Problems, 2004). It ends by the relative offset of
// Bates and Watts (Technometrics 23 (1981) 179): how far the optimum still is,
// in standard errors. A fit that did not converge is returned all the same,
// with Converged false.
func FitCurve(y, start []float64, model Model) (Fit, error) {
	if len(y) <= len(start) || len(start) == 0 {
		return Fit{}, ErrTooFew
	}
	s := newSearch(y, start, model)
	if !s.linearise() {
		return Fit{}, ErrNotFinite
	}
	for s.steps < mostSteps && s.offset() > nearest {
		if !s.step() {
			break
		}
	}
	if s.offset() <= 1e-2 {
		s.polish()
	}
	return s.result()
}

// result states errors and convergence at the parameters reached.
func (s *search) result() (Fit, error) {
	f := Fit{B: s.b, N: len(s.y), Steps: s.steps, Squares: s.squares}
	f.Residual = math.Sqrt(s.squares / float64(f.N-len(s.b)))
	roots, ok := inverseRowNorms(s.r, s.lengths)
	if !ok {
		return f, ErrSingular
	}
	for j, v := range roots {
		roots[j] = float64(v * f.Residual)
	}
	f.SE = roots
	var lag Moments
	for _, v := range s.residuals {
		lag.Add(v)
	}
	f.Lag1 = lag.Lag1()
	f.Converged = s.offset() <= nearEnough
	return f, nil
}
