package trend

import (
	"fmt"
	"math"
	"time"
)

// Forecast is what may be said about where a warming value will end. Only when
// Known may Final be shown to anybody.
type Forecast struct {
	Known    bool
	Final    float64       // base unit; 0 unless Known
	U        float64       // standard uncertainty of Final, with n_eff
	Tau      time.Duration // time constant; 0: none can be made out
	UTau     time.Duration
	Watched  time.Duration
	Slower   bool    // the later half foretells another end
	Bent     bool    // the residuals hang together: not one exponential
	Residual float64 // about the law
	Lag1     float64 // of the residuals
	Say      string  // one sentence
}

// TimeConstantsWatched is how many time constants a series must last before
// its end is foretold: at two the end is 7.4·σ/√n uncertain, at one 27·σ/√n
// (Cramér and Rao's bound).
const TimeConstantsWatched = 2

// mostLag1 is the autocorrelation of residuals beyond which the law does not
// hold; below it the uncertainty is widened.
const mostLag1 = 0.5

// Foretell fits one exponential to a series in order of time and says what may
// be said about its end. It foretells nothing before the least watch and before
// two time constants, nothing when the later half alone foretells an end more
// than two standard uncertainties away, and nothing when the residuals hang
// together: the commonest trap is a slower warming behind the first, which an
// early fit cannot see however small its residuals are. A sound single
// exponential is held back by chance in about one case in twenty.
func Foretell(points []Point, o SettleOptions) Forecast {
	if o.LeastWatch <= 0 {
		o.LeastWatch = LeastWatch
	}
	x, y := binMeans(points)
	if len(x) < 2*leastInHalf {
		return Forecast{Say: "Not told: too few readings"}
	}
	f := Forecast{Watched: points[len(points)-1].At.Sub(points[0].At)}
	e, ok := FitExponential(x, y)
	if ok {
		f.take(e, o.Resolution)
		f.Slower = slower(x, y, e)
	}
	f.Say = f.refusal(o, ok)
	f.Known = f.Say == ""
	if !f.Known {
		return f
	}
	f.Final = e.Level
	f.Say = fmt.Sprintf("Ends at %s, give or take %s (95 %%)", o.Unit.Text(f.Final, oneDigit(2*f.U)), o.Unit.Text(2*f.U, oneDigit(2*f.U)))
	return f
}

func (f *Forecast) take(e Exponential, resolution float64) {
	f.U = root(e.ULevel, resolution/math.Sqrt(12)) // a count is uniform: JCGM 100:2008, 4.3.7
	f.Tau, f.UTau = seconds(e.Tau), seconds(e.UTau)
	f.Residual, f.Lag1, f.Bent = e.Residual, e.Lag1, e.Lag1 > mostLag1
}

// refusal says why no end may be told, or nothing.
func (f *Forecast) refusal(o SettleOptions, fitted bool) string {
	switch {
	case f.Slower:
		return "Not told: a slower warming is under way"
	case f.Watched < o.LeastWatch:
		return fmt.Sprintf("Not told: watched %d of %d min", int(f.Watched.Minutes()), int(o.LeastWatch.Minutes()))
	case !fitted || f.UTau > f.Tau/2:
		return "Not told: no time constant can be made out in what was watched"
	case f.Watched < TimeConstantsWatched*f.Tau:
		return fmt.Sprintf("Not told: watched %d min, two time constants are %d min", int(f.Watched.Minutes()), int(math.Ceil(2*f.Tau.Minutes())))
	case f.Bent:
		return "Not told: the readings do not follow one exponential"
	}
	return ""
}

// slower reports that the later half of a series tells another story than the
// whole: another end, or where it shows no end of its own, a slope that the law
// of the whole leaves over.
func slower(x, y []float64, whole Exponential) bool {
	middle := len(x) / 2
	late, ok := FitExponential(x[middle:], y[middle:])
	if ok && late.Span >= late.Tau/2 {
		return math.Abs(late.Level-whole.Level) > 2*late.ULevel
	}
	rest := make([]float64, len(x)-middle)
	for i := range rest {
		rest[i] = y[middle+i] - whole.At(x[middle+i]-x[0])
	}
	l, ok := FitLine(x[middle:], rest)
	return ok && math.Abs(l.Slope) > 2*l.SDSlopeCorrelated()
}

// root is the root of the sum of squares.
func root(a, b float64) float64 { return math.Sqrt(float64(a*a) + float64(b*b)) }
