package trend

import "math"

// Cusum keeps the two sums of a tabular CUSUM: how far readings went from the
// target upwards and downwards, less a slack for each reading (Page, Biometrika
// 41 (1954) 100; Montgomery, Introduction to Statistical Quality Control, 9.1).
// It sees a small lasting shift long before any single reading stands out, and
// takes readings as independent: feed it medians of blocks. With a slack of
// half a standard deviation and a limit of five, 465 readings pass between
// false alarms, and a shift by one standard deviation is seen after 10.4.
//
// The fields are in the unit of the readings; Target, Slack and Limit are set
// before the first. HeadStart, usually half the limit, lets a series that starts
// off its target be seen sooner (Lucas and Crosier, Technometrics 24 (1982) 199).
type Cusum struct {
	Target, Slack, Limit, HeadStart float64

	high, low       float64
	sinceUp, sinceD int
	started         bool
}

// CusumState is where the two sums stand.
type CusumState struct {
	High, Low         float64 // both at least 0
	RunHigh, RunLow   int     // readings since each was last 0: the shift began there
	Upwards, Downward bool    // over the limit
}

// Add takes one finite value. A sum over the limit stays so
// until readings bring it down.
func (c *Cusum) Add(v float64) CusumState {
	if !c.started {
		c.high, c.low, c.started = c.HeadStart, c.HeadStart, true
	}
	c.high, c.sinceUp = sumOn(c.high, c.sinceUp, v-(c.Target+c.Slack))
	c.low, c.sinceD = sumOn(c.low, c.sinceD, c.Target-c.Slack-v)
	return CusumState{
		High: c.high, Low: c.low, RunHigh: c.sinceUp, RunLow: c.sinceD,
		Upwards: c.high > c.Limit, Downward: c.low > c.Limit,
	}
}

func sumOn(sum float64, run int, step float64) (float64, int) {
	if sum += step; sum > 0 {
		return sum, run + 1
	}
	return 0, 0
}

// Ewma keeps an exponentially weighted moving average and its control limits
// (Roberts, Technometrics 1 (1959) 239; NIST/SEMATECH e-Handbook of Statistical
// Methods, 6.3.2.4). Weight is that of the newest reading, in (0, 1]; the limits
// lie Width standard deviations of the average from the target. The readings
// are taken as independent.
type Ewma struct {
	Target, SD, Weight, Width float64

	average float64
	left    float64 // share of the start still in the average, squared
	started bool
}

// EwmaState is where the average stands.
type EwmaState struct {
	Average   float64
	Low, High float64 // limits for this many readings: narrower at first
	Beyond    bool
}

// Add takes one finite value.
func (e *Ewma) Add(v float64) EwmaState {
	if !e.started {
		e.average, e.left, e.started = e.Target, 1, true
	}
	keep := 1 - e.Weight
	e.average = float64(e.Weight*v) + float64(keep*e.average)
	e.left = float64(e.left * float64(keep*keep))
	half := float64(e.HalfWidth() * math.Sqrt(1-e.left))
	s := EwmaState{Average: e.average, Low: e.Target - half, High: e.Target + half}
	s.Beyond = s.Average < s.Low || s.Average > s.High
	return s
}

// HalfWidth is the distance of the limits from the target in the long run.
func (e *Ewma) HalfWidth() float64 {
	return float64(e.Width * float64(e.SD*math.Sqrt(e.Weight/(2-e.Weight))))
}
