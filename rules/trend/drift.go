package trend

import (
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
)

// Point is one reading of a series, in the base unit.
type Point struct {
	At capture.Instant
	V  float64
}

// TheilSen returns the median of the slopes of all pairs of points and the
// interval that holds the true slope with 95 % if residuals are independent
// (Theil 1950; Sen, JASA 63 (1968) 1379). It takes n² time: feed it blocks. It
// reports false for fewer than two different x.
func TheilSen(x, y []float64) (slope, low, high float64, ok bool) { return theilSen(x, y, 1) }

// theilSen takes the variance of Kendall's S to be factor times that of
// independent readings.
func theilSen(x, y []float64, factor float64) (slope, low, high float64, ok bool) {
	n := min(len(x), len(y))
	slopes := slopesOf(x[:n], y[:n])
	if len(slopes) == 0 {
		return 0, 0, 0, false
	}
	half := float64(1.959963984540054*math.Sqrt(float64(kendallVariance(y[:n])*factor))) / 2
	middle, last := float64(len(slopes))/2, len(slopes)-1
	place := func(v float64) int { return min(last, max(0, int(math.Round(v)))) }
	low = nth(slopes, place(middle-half-1))
	high = nth(slopes, place(middle+half))
	return MedianOf(slopes), low, high, true
}

func slopesOf(x, y []float64) []float64 {
	slopes := make([]float64, 0, len(x)*max(0, len(x)-1)/2)
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	return slopes
}

// MedianOf returns what [Median] does of at least one value, without memory, and
// changes their order.
func MedianOf(values []float64) float64 {
	last := len(values) - 1
	return nth(values, last/2)/2 + nth(values, last-last/2)/2
}

// nth returns the value that sorting would bring to place k, and changes the
// order of the values (Hoare's FIND, Communications of the ACM 4 (1961) 321).
func nth(values []float64, k int) float64 {
	for low, high := 0, len(values)-1; low < high; {
		pivot := values[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for values[j] > pivot {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return values[k]
		}
	}
	return values[k]
}

// kendallVariance is the variance of Kendall's S, less for ties in y.
func kendallVariance(y []float64) float64 {
	term := func(k float64) float64 { return float64(float64(k*(k-1)) * float64(2*k+5)) }
	v := term(float64(len(y)))
	sorted := slices.Clone(y)
	slices.Sort(sorted)
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		v -= term(float64(j - i))
		i = j
	}
	return max(0, v/18)
}

// The conditions under which the interval of a drift holds (checked by
// simulation: below them a nominal 95 % covers as little as 14 %).
const (
	LeastBlocks       = 20
	BlocksPerCorrTime = 10 // a block is at least so many correlation times long
)

// Drift is the slope of a series with its 95 % interval, per second.
type Drift struct {
	PerSecond float64
	Low, High float64
	Blocks    int
	Span      time.Duration
	Enough    bool   // the interval may be believed
	Why       string // why not: "12 blocks, 20 are needed"
}

// BlockDrift estimates the drift from the medians of blocks of the given
// length. The interval is never narrower than one count of the resolution over
// the span: identical digits do not prove a slope of nought.
func BlockDrift(points []Point, block time.Duration, resolution float64) Drift {
	x, y := blockMedians(points, block)
	if len(x) == 0 {
		return driftOf(nil, nil, 0, resolution)
	}
	d := driftOf(x, y, points[len(points)-1].At.Sub(points[0].At), resolution)
	d.believe(block, correlationTime(points, d.PerSecond))
	return d
}

// driftOf is the slope of blocks, with the floor of the digits.
func driftOf(x, y []float64, span time.Duration, resolution float64) Drift {
	d := Drift{Blocks: len(x), Why: tooFewBlocks(len(x))}
	slope, low, high, ok := TheilSen(x, y)
	if !ok {
		return d
	}
	d.Span = span
	floor := 0.0
	if resolution > 0 && span > 0 {
		floor = resolution / span.Seconds()
	}
	d.PerSecond, d.Low, d.High = slope, min(low, slope-floor), max(high, slope+floor)
	return d
}

func tooFewBlocks(n int) string { return fmt.Sprintf("%d blocks, %d are needed", n, LeastBlocks) }

// believe says whether the interval may be believed for blocks of this length
// and readings of this correlation time.
func (d *Drift) believe(block, tau time.Duration) {
	switch {
	case d.Blocks < LeastBlocks:
		d.Why = tooFewBlocks(d.Blocks)
	case block < BlocksPerCorrTime*tau:
		d.Why = fmt.Sprintf("readings hang together for %s, blocks must be %d times that", tau.Round(time.Millisecond), BlocksPerCorrTime)
	default:
		d.Enough, d.Why = true, ""
	}
}

// blockMedians cuts the series into blocks from its first instant. x is in
// seconds since then.
func blockMedians(points []Point, block time.Duration) (x, y []float64) {
	if len(points) == 0 || block <= 0 {
		return nil, nil
	}
	start := points[0].At
	for i := 0; i < len(points); {
		nr := points[i].At.Sub(start) / block
		var xs, ys []float64
		for ; i < len(points) && points[i].At.Sub(start)/block == nr; i++ {
			xs = append(xs, points[i].At.Sub(start).Seconds())
			ys = append(ys, points[i].V)
		}
		x, y = append(x, Median(xs)), append(y, Median(ys))
	}
	return x, y
}

// correlationTime is -Δt/ln φ of the series without its slope: 0 for noise.
func correlationTime(points []Point, perSecond float64) time.Duration {
	var m Moments
	for _, p := range points {
		m.Add(p.V - float64(perSecond*p.At.Sub(points[0].At).Seconds()))
	}
	phi := m.Lag1()
	// Below twice its own standard deviation a correlation is not one.
	if len(points) < 3 || phi < 2/math.Sqrt(float64(len(points))) {
		return 0
	}
	span := points[len(points)-1].At.Sub(points[0].At)
	step := span.Seconds() / float64(len(points)-1)
	return seconds(CorrelationTime(step, phi))
}
