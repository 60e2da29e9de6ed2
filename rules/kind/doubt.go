package kind

import (
	"math"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// sample is what a verdict rests on: the mean of readings like one.
type sample struct {
	mean     float64
	variance float64 // sample variance of single readings
	n        float64 // that count as independent
	like     *capture.Reading
}

// state says how far the sample may be off.
func state(ch *capture.ChannelInfo, s sample) uncertainty.Statement {
	return uncertainty.State(s.input(ch))
}

// input is what is known of the sample.
func (s sample) input(ch *capture.ChannelInfo) uncertainty.Input {
	in := uncertainty.Of(*s.like, ch.Accuracy)
	in.Value, in.Effective = s.mean, s.n
	if s.variance > 0 {
		in.SD = math.Sqrt(s.variance)
	}
	return in
}

// Mean judges the mean of readings of one channel against a rail's bounds as
// the band's verdict does, with the number of readings that count as
// independent. There must be at least one.
func Mean(ch capture.ChannelInfo, rail capture.Rail, readings []capture.Reading) capture.Verdict {
	var m trend.Moments
	for _, r := range readings {
		m.Add(r.Value)
	}
	s := state(&ch, sample{mean: m.Mean(), variance: float64(m.SD() * m.SD()), n: m.Effective(), like: &readings[len(readings)-1]})
	d := uncertainty.JudgeRail(rail, s)
	return capture.Verdict{
		Rail: rail.Name, Outcome: d.Outcome, Say: d.Say, Value: s.Value, Uncertainty: s.Expanded, Indicated: d.Indicated,
		Unit: capture.Volt.ASCII(), Resolution: s.Resolution, Channel: ch.ID, N: len(readings),
	}
}
