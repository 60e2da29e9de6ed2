package trend

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// LeastWatch is how long a warm-up is watched before anything is called
// settled (common practice: 30 minutes with the covers on). A short window
// fits one exponential perfectly and never sees the slower one.
const LeastWatch = 30 * time.Minute

// SettleOptions say what settled means. Zero fields take their defaults.
type SettleOptions struct {
	Limit      float64       // base unit, above 0: the smaller of a tenth of the band and a third of U
	LeastWatch time.Duration // default [LeastWatch]
	Unit       capture.Unit  // for the sentence
	Resolution float64       // base unit; one count of the meter
}

// Settling says how far a warming value still has to go.
type Settling struct {
	Settled   bool          // what remains lies below the limit with 95 % confidence
	Known     bool          // Remaining and U may be used: two time constants and the least watch have passed
	Remaining float64       // base unit, signed: what will still be added; 0 unless Known
	U         float64       // standard uncertainty of Remaining
	AtLeast   float64       // magnitude that remains at the least, when not Known
	Tau       time.Duration // time constant of what still moves; 0: none could be made out
	Slower    bool          // a slower warming follows the one that first showed
	Watched   time.Duration
	Say       string // one sentence
}

// oneSided is the normal quantile of 95 % on one side.
const oneSided = 1.6448536269514722

// afterQuarter is e to the power of -1/4: what is left of an approach after a
// quarter of its time constant.
const afterQuarter = 0.77880078307140486825

// approach is one reading of the law value(t) = final - remaining·exp(-t/τ).
type approach struct {
	slope, u  float64 // at the middle of the later half, per second
	half      float64 // length of a half, seconds
	tau       float64 // seconds; 0: no decay to be seen
	remaining float64 // at the end
	uRemain   float64
}

// Settle judges a series in order of time. Slope alone lies: what remains is
// slope times time constant, and the time constant comes from two slopes some
// time apart. It is estimated over the whole and over the later half; if they
// disagree, a slower warming has taken over. Where no time constant shows,
// constants up to half of the span (twice the span, when a slope is seen) are
// assumed possible.
func Settle(points []Point, o SettleOptions) Settling {
	if o.LeastWatch <= 0 {
		o.LeastWatch = LeastWatch
	}
	whole, ok := approachOf(points, o.Resolution)
	if !ok {
		return Settling{Say: "Not yet: too few readings"}
	}
	s := Settling{Watched: points[len(points)-1].At.Sub(points[0].At)}
	late, ok := approachOf(lastHalf(points), o.Resolution)
	if !ok {
		late = whole
	}
	s.Slower = whole.tau > 0 && apart(whole, late)
	bound := s.conclude(whole, late, s.Watched.Seconds(), s.Watched >= o.LeastWatch)
	s.Settled = o.Limit > 0 && s.Watched >= o.LeastWatch && bound < o.Limit
	s.Say = s.sentence(o, bound)
	return s
}

// conclude fills what can be known and returns what remains at the most. Before
// the least watch nothing is foretold, however well one exponential fits.
func (s *Settling) conclude(whole, late approach, span float64, enough bool) (bound float64) {
	a, watched := whole, span
	if s.Slower {
		a, watched = late, span/2
	}
	if enough && a.tau > 0 && watched >= 2*a.tau {
		s.Known, s.Remaining, s.U, s.Tau = true, a.remaining, a.uRemain, seconds(a.tau)
		bound = math.Abs(a.remaining) + float64(oneSided*a.uRemain)
		if s.Slower {
			return bound
		}
		// What the later half may hide below its own noise counts as well.
		return max(bound, hidden(late, span))
	}
	if a.tau > 0 {
		s.Tau = seconds(a.tau)
	}
	s.AtLeast = max(0, math.Abs(late.slope)-float64(oneSided*late.u)) * span / 2 * afterQuarter
	if s.AtLeast > 0 {
		return (math.Abs(late.slope) + float64(oneSided*late.u)) * 2 * span
	}
	return hidden(late, span)
}

// hidden is the most that a time constant of up to half the span could still
// bring when the later half shows no slope beyond its noise.
func hidden(late approach, span float64) float64 {
	if math.Abs(late.slope) > oneSided*late.u {
		return 0
	}
	return oneSided * late.u * span / 2
}

// apart reports that whole and later half foretell different ends.
func apart(whole, late approach) bool {
	if late.tau > 0 {
		return math.Abs(whole.remaining-late.remaining) > 2*root(whole.uRemain, late.uRemain)
	}
	// No constant of its own: does its slope fit what the whole foretells?
	want := float64(whole.remaining / whole.tau * elementary.Exp(late.half/2/whole.tau))
	uWant := math.Abs(want) * whole.uRemain / max(math.Abs(whole.remaining), math.SmallestNonzeroFloat64)
	return math.Abs(late.slope-want) > 2*root(late.u, uWant)
}

// approachOf compares the slopes of the two halves of a series.
func approachOf(points []Point, resolution float64) (approach, bool) {
	x, y := binMeans(points)
	if len(x) < 2*leastInHalf {
		return approach{}, false
	}
	middle := len(x) / 2
	first, ok1 := FitLine(x[:middle], y[:middle])
	second, ok2 := FitLine(x[middle:], y[middle:])
	if !ok1 || !ok2 {
		return approach{}, false
	}
	a := approach{slope: second.Slope, half: x[len(x)-1] - x[middle]}
	u1 := slopeU(first, x[middle-1]-x[0], resolution)
	a.u = slopeU(second, a.half, resolution)
	ratio := first.Slope / a.slope
	if !(ratio > 1) || math.Abs(a.slope) <= 2*a.u {
		return a, true
	}
	decay := elementary.Log(ratio)
	if decay <= 2*root(u1/first.Slope, a.u/a.slope) {
		return a, true
	}
	a.tau = (second.MeanX - first.MeanX) / decay
	arg := a.half / (2 * a.tau)
	a.remaining = a.slope / chord(arg) * a.tau * elementary.Exp(-arg)
	a.uRemain = math.Abs(a.remaining) * root((1+1/decay)*a.u/a.slope, u1/first.Slope/decay)
	return a, true
}

// chord is the least-squares slope of exp over [-x, x] against its slope in the
// middle: 3(x cosh x - sinh x)/x³, below 1 by its series, which does not cancel.
func chord(x float64) float64 {
	if x < 1 {
		x2, term, sum := float64(x*x), 1.0, 0.0
		for k := 1.0; k < 12; k++ { // 3·2k/(2k+1)! x^(2k-2), to 1e-22
			sum += term
			term *= x2 * (k + 1) / k / ((2*k + 2) * (2*k + 3))
		}
		return sum
	}
	up := elementary.Exp(x)
	cosh, sinh := (up+1/up)/2, (up-1/up)/2
	return 3 * (float64(x*cosh) - sinh) / float64(float64(x*x)*x)
}

// slopeU is the standard uncertainty of a slope over a span: what the scatter
// gives, and where the scatter does not even turn the last digit, that digit.
func slopeU(l Line, span, resolution float64) float64 {
	u := l.SDSlopeCorrelated()
	if resolution > 0 && l.Residual < resolution/4 && span > 0 {
		u = max(u, resolution/(span*math.Sqrt(3)))
	}
	return u
}

const (
	mostBins    = 240
	leastInHalf = 6
)

// binMeans thins a series to means of equal stretches of time, in seconds since
// its start, so that a warm-up of hours costs no more than one of minutes.
func binMeans(points []Point) (x, y []float64) {
	if len(points) == 0 {
		return nil, nil
	}
	start := points[0].At
	width := max(points[len(points)-1].At.Sub(start)/mostBins, time.Microsecond)
	for i := 0; i < len(points); {
		nr := points[i].At.Sub(start) / width
		var mx, my Moments
		for ; i < len(points) && points[i].At.Sub(start)/width == nr; i++ {
			mx.Add(points[i].At.Sub(start).Seconds())
			my.Add(points[i].V)
		}
		x, y = append(x, mx.Mean()), append(y, my.Mean())
	}
	return x, y
}

// lastHalf returns the points of the later half of the span.
func lastHalf(points []Point) []Point {
	middle := points[0].At + (points[len(points)-1].At-points[0].At)/2
	for i, p := range points {
		if p.At >= middle {
			return points[i:]
		}
	}
	return nil
}

// seconds makes a duration of at most three years: ten times that still is one.
func seconds(s float64) time.Duration { return time.Duration(min(s, 1e8) * float64(time.Second)) }

// sentence says it, with no more digits than the uncertainty carries.
func (s *Settling) sentence(o SettleOptions, bound float64) string {
	show := func(v float64) string { return o.Unit.Text(v, oneDigit(v)) }
	slower := ""
	if s.Slower {
		slower = "; a slower warming is under way"
	}
	switch {
	case s.Settled:
		return "Settled: at most " + show(bound) + " to go"
	case s.Known && (o.Limit <= 0 || bound >= o.Limit):
		digits := oneDigit(max(s.U, math.Abs(s.Remaining)/100))
		return fmt.Sprintf("Not yet: %s to go%s", o.Unit.Text(math.Abs(s.Remaining), digits), slower)
	case s.AtLeast > 0 && s.AtLeast >= o.Limit:
		return "Not yet: at least " + show(s.AtLeast) + " to go" + slower
	case s.Watched < o.LeastWatch:
		return fmt.Sprintf("Not yet: watched %d of %d min", int(s.Watched.Minutes()), int(o.LeastWatch.Minutes())) + slower
	}
	return "Not yet: up to " + show(bound) + " to go cannot be excluded" + slower
}

// oneDigit is the resolution that leaves one significant digit of v.
func oneDigit(v float64) float64 {
	if v == 0 {
		return 0
	}
	return capture.Decade(v)
}
