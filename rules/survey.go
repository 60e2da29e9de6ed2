package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
)

// survey tells how what a clip read moved over the watched span. Readings while
// an output was off or the rail was down are left out, as they are of the means:
// a fall is no trend, and is told by its alarm.
type survey struct {
	off   func(capture.Instant) bool
	falls []capture.Gap
	tell  *trend.Survey
}

func (s *survey) read(at capture.Instant, r *capture.Reading) {
	if s == nil || !r.Good() || s.off(at) || down(s.falls, at) {
		return
	}
	s.tell.Add(at, r.Value, r.Resolution)
}

// down reports whether an instant lies in a fall. One without an end is still
// there.
func down(falls []capture.Gap, at capture.Instant) bool {
	return slices.ContainsFunc(falls, func(g capture.Gap) bool { return at >= g.From && (g.To == 0 || at <= g.To) })
}

const (
	// leastTrend is how many readings a trend is told from.
	leastTrend = 2
	perHour    = 3600.0
	// plainP is the chance below which a movement is told as one.
	plainP = 0.05
)

// told is what was found, with its sentences; nothing of a channel that read
// nothing.
func (s *survey) told(ch capture.ChannelID) []capture.Trend {
	if s == nil {
		return nil
	}
	f := s.tell.Sum()
	if f.N < leastTrend {
		return nil
	}
	t := capture.Trend{
		Channel: ch, From: f.From, To: f.To, N: f.N, Effective: f.Effective, Longer: f.Longer, Mean: f.Mean, SD: f.SD, Median: f.Median, Low: f.Low, High: f.High,
		RankError: f.RankError, Blocks: f.Drift.Blocks, Block: f.Block, Why: f.Drift.Why, Tau: f.Kendall.TauB, P: math.Round(float64(1e4*f.Kendall.P)) / 1e4,
		Slope: float64(f.Drift.PerSecond * perHour), SlopeLow: float64(f.Drift.Low * perHour), SlopeHigh: float64(f.Drift.High * perHour),
		Cusum: f.Shift.Cusum, Ewma: f.Shift.Ewma,
	}
	for _, a := range f.Curve {
		t.Curve = append(t.Curve, capture.Steadiness{Over: a.Tau, Deviation: a.Overlapping, Terms: a.Terms})
	}
	t.Say = trendSays(f, t)
	return []capture.Trend{t}
}

// trendSays puts it in sentences, each with what it may not be taken for.
func trendSays(f trend.Summary, t capture.Trend) (out []string) {
	if f.Longer {
		out = append(out, "Readings hang together for longer than "+coverage.Count(trend.SurveyLags)+" of them: fewer count as independent than is said here.")
	}
	if len(t.Curve) == 0 {
		return append(out, "Watched too short to tell whether it moves.")
	}
	out = append(out, movesSay(t))
	out = append(out, kneeSay(f))
	out = append(out, shiftSay(f.Shift))
	if len(f.Shift.Runs) > 0 {
		out = append(out, runsSay(f.Shift))
	}
	return out
}

// movesSay tells the slope by its interval, and the one-way movement by the test
// of Mann and Kendall.
func movesSay(t capture.Trend) string {
	most := max(math.Abs(t.SlopeLow), math.Abs(t.SlopeHigh))
	way := map[bool]string{true: "upwards", false: "downwards"}[t.Slope > 0]
	switch sure := t.SlopeLow > 0 || t.SlopeHigh < 0; {
	case t.Why != "":
		return "Whether it moves cannot be told: " + t.Why + "."
	case sure && t.P < plainP:
		return fmt.Sprintf("It moves %s: chance alone does as much in %s of 100 such watches. The meter and the room may move as well.", way, few(100*t.P))
	case sure != (t.P < plainP):
		return fmt.Sprintf("Whether it moves cannot be told: the slope and the order of the blocks do not agree. It is at most %s per hour.", capture.Volt.Text(most, twoDigits(most)))
	}
	return fmt.Sprintf("No movement is seen beyond chance: at most %s per hour either way.", capture.Volt.Text(most, twoDigits(most)))
}

// kneeSay says how long averaging helps.
func kneeSay(f trend.Summary) string {
	best, longest := f.Curve[f.Knee.At], f.Curve[len(f.Curve)-1]
	steadiest := fmt.Sprintf("means over %s, which differ by %s from one to the next", coverage.Long(best.Tau), capture.Volt.Text(best.Overlapping, twoDigits(best.Overlapping)))
	switch {
	case best.Overlapping == 0:
		return "Its means do not differ in the digits read."
	case f.Knee.Rises && f.Knee.ByADrift:
		return "Averaging helps up to " + steadiest + "; beyond, a steady drift takes over."
	case f.Knee.Rises:
		return "Averaging helps up to " + steadiest + "; beyond, a slow wandering takes over."
	case f.Knee.At == len(f.Curve)-1:
		return "Averaging still helps at " + steadiest + ": no wandering is seen up to there."
	}
	return "The steadiest are " + steadiest + "; up to " + coverage.Long(longest.Tau) + " no wandering is seen beyond chance."
}

// shiftSay says whether the level moved and stayed. The instants stand beside.
func shiftSay(s trend.Shift) string {
	switch {
	case !s.Judged:
		return "Whether its level shifted cannot be told: too few blocks differ."
	case s.Cusum == 0 && s.Ewma == 0:
		return "Neither control chart of the blocks left its limits: no lasting shift is seen."
	}
	side := map[bool]string{true: "above", false: "below"}[s.Upward]
	return fmt.Sprintf("Its level was not one and the same: a control chart first left its limits %s the mean of the watch. A steady series does so in about %s of 100 such watches.", side, few(100*s.Chance))
}

// runsSay names the run rules that the blocks break, and what that is worth: there
// are many rules, and chance alone breaks one or another often.
func runsSay(s trend.Shift) string {
	names := make([]string, len(s.Runs))
	for i, r := range s.Runs {
		names[i] = r.String()
	}
	return fmt.Sprintf("Run rules that its blocks break: %s. A steady series breaks one or another in about %s of 100 such watches.", strings.Join(names, "; "), few(100*s.ByLuck))
}

// few prints a number of cases out of a hundred, no finer than it is known.
func few(percent float64) string {
	if percent < 1 {
		return "fewer than 1"
	}
	return capture.Figure(math.Ceil(percent-1e-9), 1)
}
