package kind

import (
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// sample is what a verdict rests on: the mean of readings like one.
type sample struct {
	mean     float64
	variance float64 // sample variance of single readings
	n        float64 // that count as independent
	readings int     // that there are
	lead     float64 // standard uncertainty of what the leads have
	room     *float64
	given    uncertainty.Given
	like     *capture.Reading
}

// state says how far the sample may be off.
func state(ch *capture.ChannelInfo, s sample) uncertainty.Statement {
	return uncertainty.State(s.input(ch))
}

// input is what is known of the sample.
func (s *sample) input(ch *capture.ChannelInfo) uncertainty.Input {
	in := uncertainty.Input{
		Value: s.mean, Resolution: s.like.Resolution, Range: s.like.Range, Accuracy: ch.Accuracy, Unit: s.like.Quantity.Unit(),
		Effective: s.n, Readings: s.readings, Lead: s.lead, Ambient: s.room, Given: s.given,
	}
	if s.variance > 0 {
		in.SD = math.Sqrt(s.variance)
	}
	return in
}

// note says with a verdict what its uncertainty takes for granted, and aloud
// that the meter is coarse for the band.
func note(s uncertainty.Statement, b capture.Bounds) string {
	if !s.Stated {
		return "" // indicated only, which is said by itself
	}
	return strings.Join(notes(s, b), "; ")
}

func notes(s uncertainty.Statement, b capture.Bounds) []string {
	out := s.Notes
	if aloud := uncertainty.Aloud(s.Expanded, b); aloud != "" {
		out = append(out[:len(out):len(out)], aloud)
	}
	return out
}

// Figure is a rail's figure to be judged: the mean of readings of one channel.
type Figure struct {
	Channel  capture.ChannelInfo
	Rail     capture.Rail
	Readings []capture.Reading // at least one
	Room     *float64          // °C; nil: not told
}

func (f Figure) state() (uncertainty.Statement, trend.Moments) {
	var m trend.Moments
	for _, r := range f.Readings {
		m.Add(r.Value)
	}
	return state(&f.Channel, sample{
		mean: m.Mean(), variance: float64(m.SD() * m.SD()), n: m.Effective(), readings: m.N(), room: f.Room, like: &f.Readings[len(f.Readings)-1],
	}), m
}

// Judge judges the figure as the band's verdict does, and returns the budget
// with it.
func (f Figure) Judge() capture.Judged {
	s, m := f.state()
	d := uncertainty.JudgeRail(f.Rail, s)
	out := capture.Judged{
		Rail: f.Rail.Name, Quantity: capture.DCVoltage, Channel: f.Channel.ID, Value: s.Value, Resolution: f.Readings[len(f.Readings)-1].Resolution,
		N: m.N(), Effective: m.Effective(), Range: s.Accuracy.Range, Standard: s.Standard, Coverage: s.Coverage, Expanded: s.Expanded,
		Outcome: d.Outcome, Say: d.Say, Probability: s.Probability(f.Rail.Bounds), Ambient: f.Room, Notes: notes(s, f.Rail.Bounds), Indicated: d.Indicated,
		NormalAssumed: s.Stated && s.Spread().NormalAssumed(), GuardShare: uncertainty.GuardShare(s.Expanded, f.Rail.Bounds),
	}
	parts := s.Parts()
	// Of a figure that was stated every part is finite and none is negative.
	all, _ := uncertainty.Budget{Components: parts}.Combine()
	for _, c := range parts {
		out.Parts = append(out.Parts, capture.Part{
			Weight: all.Weight(c),
			Name:   c.Name, Value: c.Value, Distribution: c.Distribution.String(), Divisor: c.Divisor(), Standard: c.Standard(), Degrees: c.Degrees, Source: c.Source,
		})
	}
	return out
}

// Mean judges the mean of readings of one channel against a rail's bounds as
// the band's verdict does, with the number of readings that count as
// independent. There must be at least one.
func Mean(ch capture.ChannelInfo, rail capture.Rail, readings []capture.Reading) capture.Verdict {
	s, m := Figure{Channel: ch, Rail: rail, Readings: readings}.state()
	d := uncertainty.JudgeRail(rail, s)
	return capture.Verdict{
		Rail: rail.Name, Outcome: d.Outcome, Say: d.Say, Value: s.Value, Uncertainty: s.Expanded, Probability: s.Probability(rail.Bounds), Note: note(s, rail.Bounds),
		Indicated: d.Indicated, Unit: capture.Volt.ASCII(), Resolution: s.Resolution, Channel: ch.ID, N: m.N(),
	}
}
