package trend

import (
	"math"

	"steadyrail/capture/elementary"
)

// RunRule is a pattern of a control chart that chance seldom draws. The four of
// the Western Electric Company (Statistical Quality Control Handbook, 1956) and
// the eight of Nelson (Journal of Quality Technology 16 (1984) 237) have three in
// common; where a run on one side counts, they differ by one point.
type RunRule int

// The rules, in the order in which they are told.
const (
	BeyondThree RunRule = iota
	TwoBeyondTwo
	FourBeyondOne
	EightOneSide
	NineOneSide
	SixOneWay
	FourteenAlternating
	FifteenWithin
	EightOutside
	runRules
)

// runPatterns holds for each rule how many points it looks at, how many there must
// be for it, whether these break it, and what is said of it.
var runPatterns = [runRules]struct {
	points, least int
	broken        func(z []float64) bool
	say           string
}{
	{1, 1, share(1, 3), "one beyond three standard deviations"},
	{3, 2, share(2, 2), "two of three beyond two standard deviations on one side"},
	{5, 4, share(4, 1), "four of five beyond one standard deviation on one side"},
	{8, 8, share(8, 0), "eight in a row on one side"},
	{9, 9, share(9, 0), "nine in a row on one side"},
	{6, 6, oneWay, "six in a row rising or falling"},
	{14, 14, alternating, "fourteen in a row up and down by turns"},
	{15, 15, within, "fifteen in a row within one standard deviation"},
	{8, 8, outside, "eight in a row on both sides beyond one standard deviation"},
}

// String returns what the rule looks for, in words.
func (r RunRule) String() string { return runPatterns[r].say }

const mostRun = 15 // points that a rule looks at

// Runs finds these patterns. Target and SD are those of independent, normal
// points and are set before the first; SD is above 0.
type Runs struct {
	Target, SD float64

	z []float64 // newest points, in standard deviations from the target
}

// Add takes one finite value and reports, for each rule, whether the points that
// end with it break it.
func (r *Runs) Add(v float64) (broken [runRules]bool) {
	if r.z = append(r.z, (v-r.Target)/r.SD); len(r.z) > mostRun {
		copy(r.z, r.z[1:])
		r.z = r.z[:mostRun]
	}
	for i, p := range runPatterns {
		broken[i] = len(r.z) >= p.least && p.broken(r.z[max(0, len(r.z)-p.points):])
	}
	return broken
}

// share counts the points beyond a limit: so many on one side, the newest among
// them, break the rule.
func share(least int, limit float64) func([]float64) bool {
	return func(z []float64) bool {
		above, below := 0, 0
		for _, v := range z {
			if v > limit {
				above++
			}
			if v < -limit {
				below++
			}
		}
		newest := z[len(z)-1]
		return above >= least && newest > limit || below >= least && newest < -limit
	}
}

func oneWay(z []float64) bool {
	up, down := true, true
	for i := 1; i < len(z); i++ {
		up, down = up && z[i] > z[i-1], down && z[i] < z[i-1]
	}
	return up || down
}

func alternating(z []float64) bool {
	for i := 2; i < len(z); i++ {
		if !(z[i] > z[i-1] && z[i-1] < z[i-2] || z[i] < z[i-1] && z[i-1] > z[i-2]) {
			return false
		}
	}
	return true
}

func within(z []float64) bool {
	for _, v := range z {
		if math.Abs(v) >= 1 {
			return false
		}
	}
	return true
}

// outside wants points on both sides: all on one are told by other rules.
func outside(z []float64) bool {
	above, below := false, false
	for _, v := range z {
		if math.Abs(v) <= 1 {
			return false
		}
		above, below = above || v > 0, below || v < 0
	}
	return above && below
}

// runsBroken lists the rules that a chart of block medians breaks about a level.
// Where nine stand on one side, eight do as well and are not told again.
func runsBroken(y []float64, level, sd float64) (out []RunRule) {
	chart := Runs{Target: level, SD: sd}
	var seen [runRules]bool
	for _, v := range y {
		for rule, broken := range chart.Add(v) {
			seen[rule] = seen[rule] || broken
		}
	}
	for rule := range runRules {
		if seen[rule] && !(rule == EightOneSide && seen[NineOneSide]) {
			out = append(out, rule)
		}
	}
	return out
}

// Of independent blocks about their own mean, with the standard deviation from the
// differences of neighbours, one or another rule is broken with this chance: a run
// length and a start that fit simulated charts of 20 to 60 blocks to 0.01.
const runsRun, runsStart = 65.0, 9.3

func runsChance(blocks int) float64 {
	return 1 - elementary.Exp(-max(0, float64(blocks)-runsStart)/runsRun)
}
