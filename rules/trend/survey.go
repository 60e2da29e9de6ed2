package trend

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Survey takes a whole watch, reading by reading, and tells how it moved. It
// keeps bounded memory and does the same work for each reading on average. Use
// [NewSurvey].
type Survey struct {
	moments     Moments
	sketch      *Sketch
	correlogram *Correlogram
	cells       Cells
	first, last capture.Instant
	resolution  float64
}

const (
	// SurveyLags is how many lags the number of independent readings is taken
	// from: at 5 readings a second some thirteen seconds, which is longer than a
	// meter remembers (common practice). What hangs together for longer is said.
	SurveyLags   = 64
	surveySketch = 1024 // 144,000 readings to 0.8 % of the ranks at the worst
	// surveyBlocks bounds the blocks between which slopes are taken.
	surveyBlocks = 60
)

// NewSurvey makes an empty survey.
func NewSurvey() *Survey {
	return &Survey{sketch: NewSketch(surveySketch), correlogram: NewCorrelogram(SurveyLags), cells: NewCells()}
}

// Add takes a reading in order of time with one count of its last digit; one that
// is not finite is not counted.
func (s *Survey) Add(at capture.Instant, v, resolution float64) {
	if !finite(v) {
		return
	}
	if s.moments.N() == 0 {
		s.first = at
	}
	s.last, s.resolution = at, max(s.resolution, resolution)
	s.moments.Add(v)
	s.sketch.Add(v)
	s.correlogram.Add(v)
	s.cells.Add(at, v)
}

// Summary is what a survey found, in the base unit of the readings.
type Summary struct {
	N         int
	From, To  capture.Instant
	Effective float64 // readings that count as independent in a mean
	Longer    bool    // readings hang together for longer than was looked at: Effective is too great
	Mean, SD  float64
	Median    float64
	Low, High float64 // 5 and 95 % of the readings lie below
	RankError float64 // share of the ranks that the three may be off by at the worst
	Drift     Drift   // of the medians of blocks
	Block     time.Duration
	Kendall   Kendall // of these blocks
	Curve     []Averaged
	Knee      Knee
	Shift     Shift
}

// Averaged is how much means over a time differ from one to the next.
type Averaged struct {
	Tau time.Duration
	Stability
}

// LeastSurvey is how many full cells a survey tells more from than moments and
// quantiles: ten to each of the two halves of a curve (common practice).
const LeastSurvey = 2 * LeastBlocks

// Sum tells what was found so far.
func (s *Survey) Sum() Summary {
	out := Summary{
		N: s.moments.N(), From: s.first, To: s.last, Mean: s.moments.Mean(), SD: s.moments.SD(),
		Median: s.sketch.Quantile(0.5), Low: s.sketch.Quantile(0.05), High: s.sketch.Quantile(0.95), RankError: s.sketch.Error(),
	}
	reaches := false
	out.Effective, reaches = s.correlogram.Effective()
	out.Longer = !reaches && out.N > 1
	points := s.cells.Points()
	if len(points) < LeastSurvey {
		out.Drift.Why = "watched too short"
		return out
	}
	per := max(1, (len(points)+surveyBlocks-1)/surveyBlocks)
	out.Block = time.Duration(per) * s.cells.Width()
	x, y := blockMedians(points, out.Block)
	out.Drift = BlockDrift(points, out.Block, s.resolution)
	if !out.Drift.Enough { // where blocks hang together, too, at least by as much as they show
		if slope, low, high, ok := TheilSenCorrelated(x, y); ok {
			out.Drift.PerSecond, out.Drift.Low, out.Drift.High = slope, min(low, out.Drift.Low), max(high, out.Drift.High)
		}
	}
	out.Kendall = MannKendallCorrelated(y)
	out.Curve = averaged(points, s.cells.Width())
	out.Knee = kneeOf(out.Curve)
	out.Shift = shiftOf(x, y, points[0].At)
	return out
}

// averaged computes the curve of stability over means of 1, 2, 4, … cells, up to
// a quarter of the watch: beyond, too few differences are left. A gap is closed up.
func averaged(points []Point, cell time.Duration) (out []Averaged) {
	v := make([]float64, len(points))
	for i, p := range points {
		v[i] = p.V
	}
	for _, s := range StabilitySweep(v) {
		if 4*s.Factor <= len(v) {
			out = append(out, Averaged{Tau: time.Duration(s.Factor) * cell, Stability: s})
		}
	}
	return out
}

// Knee is where averaging longer stops helping.
type Knee struct {
	At       int  // index of the steadiest means in the curve; -1: none
	Rises    bool // longer means differ more from each other, by more than chance
	ByADrift bool // a steady drift makes them do so: less it, they do not
}

// kneeRise is by how much the deviation of the longest means must exceed the
// least before it is told: with two degrees of freedom for each of four means it
// scatters by about a third (SP 1065, 5.4.1; the project's own choice).
const kneeRise = 2

func kneeOf(curve []Averaged) Knee {
	k := Knee{At: -1}
	for i, a := range curve {
		if k.At < 0 || a.Overlapping < curve[k.At].Overlapping {
			k.At = i
		}
	}
	if k.At < 0 {
		return k
	}
	longest := curve[len(curve)-1]
	k.Rises = longest.Total > kneeRise*curve[k.At].Overlapping
	k.ByADrift = k.Rises && longest.OverlappingHadamard < longest.Overlapping/kneeRise
	return k
}

// Shift says whether the level moved and stayed, by two control charts of the
// block medians about their mean. The standard deviation of a block comes from the
// differences of neighbours, which a shift hardly touches (von Neumann, Annals of
// Mathematical Statistics 12 (1941) 367).
type Shift struct {
	Judged bool
	SD     float64         // of a block's median
	Cusum  capture.Instant // middle of the block with which the sums first left their limit; 0: they did not
	Ewma   capture.Instant // likewise, the weighted average
	Upward bool            // of the first that did
	Chance float64         // that a chart of so many independent blocks does so without any shift
	Runs   []RunRule       // patterns that the blocks draw about their mean
	ByLuck float64         // chance that so many independent blocks draw one or another
}

// Slack and limit of the CUSUM and weight and width of the EWMA, in standard
// deviations (Montgomery, Introduction to Statistical Quality Control, 9.1.2 and
// 9.2.2): steady blocks leave the first after 465 on average and the second
// after about 500 (the latter from memory).
const (
	cusumSlack, cusumLimit = 0.5, 5
	ewmaWeight, ewmaWidth  = 0.1, 2.814
	cusumRun               = 465.0
)

func shiftOf(x, y []float64, start capture.Instant) Shift {
	var steps float64
	var level Moments
	for i, v := range y {
		if level.Add(v); i > 0 {
			steps += square(v - y[i-1])
		}
	}
	if len(y) < LeastBlocks || !(steps > 0) {
		return Shift{}
	}
	s := Shift{Judged: true, SD: math.Sqrt(steps / float64(2*(len(y)-1))), Chance: 1 - elementary.Exp(-float64(len(y))/cusumRun)}
	sums := Cusum{Target: level.Mean(), Slack: float64(cusumSlack * s.SD), Limit: float64(cusumLimit * s.SD)}
	s.Runs, s.ByLuck = runsBroken(y, level.Mean(), s.SD), runsChance(len(y))
	average := Ewma{Target: level.Mean(), SD: s.SD, Weight: ewmaWeight, Width: ewmaWidth}
	for i, v := range y {
		at := start.Add(seconds(x[i]))
		c, e := sums.Add(v), average.Add(v)
		if left := c.Upwards || c.Downward; left && s.Cusum == 0 {
			if s.Cusum = at; s.Ewma == 0 {
				s.Upward = c.Upwards
			}
		}
		if e.Beyond && s.Ewma == 0 {
			if s.Ewma = at; s.Cusum == 0 {
				s.Upward = e.Average > e.High
			}
		}
	}
	return s
}

func square(v float64) float64 { return float64(v * v) }
