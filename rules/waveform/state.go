package waveform

import "math"

// bins is how many classes the histogram of the states has (IEEE 181 leaves it
// to who measures; common practice).
const bins = 200

// States are the two levels a transition goes between, in volt.
type States struct{ Low, High float64 }

// Amplitude is the distance between the states.
func (s States) Amplitude() float64 { return s.High - s.Low }

// Level is a level between the states, 0.1 for 10 %.
func (s States) Level(part float64) float64 { return s.Low + float64(part*s.Amplitude()) }

// States finds the two states by the modes of the histogram (IEEE 181, from
// memory): the range is parted in the middle, and each half's fullest class gives
// the state as the mean of what lies within a class of it. Each sample weighs by
// the time to its neighbours, so that an uneven capture is no different.
func (t Trace) States() States {
	low, high := ends(t.Values)
	width := (high - low) / bins
	if width <= 0 {
		return States{Low: low, High: high}
	}
	var weight [bins]float64
	for i, v := range t.Values {
		weight[class(v, low, width)] += t.share(i)
	}
	return States{
		Low:  t.around(mode(weight[:bins/2]), low, width),
		High: t.around(bins/2+mode(weight[bins/2:]), low, width),
	}
}

func class(v, low, width float64) int { return min(bins-1, max(0, int((v-low)/width))) }

// share is the time that a sample stands for.
func (t Trace) share(i int) float64 {
	before, after := max(0, i-1), min(len(t.Times)-1, i+1)
	return (t.Times[after] - t.Times[before]) / 2
}

func mode(weight []float64) (fullest int) {
	for i, w := range weight {
		if w > weight[fullest] {
			fullest = i
		}
	}
	return fullest
}

// around is the mean of the samples within one class of the fullest one.
func (t Trace) around(fullest int, low, width float64) float64 {
	var sum, weight float64
	for i, v := range t.Values {
		if c := class(v, low, width); c >= fullest-1 && c <= fullest+1 {
			sum += float64(v * t.share(i))
			weight += t.share(i)
		}
	}
	return sum / weight
}

// Ripple is what is left on a level, in the bandwidth of the capture.
type Ripple struct {
	Mean float64 // V
	Peak float64 // V peak to peak
	RMS  float64 // V about the mean
}

// Ripple works out what a trace swings about its mean; each sample weighs by the
// time it stands for.
func (t Trace) Ripple() Ripple {
	var sum, weight, squares float64
	for i, v := range t.Values {
		sum += float64(v * t.share(i))
		weight += t.share(i)
	}
	r := Ripple{Mean: sum / weight, Peak: span(t.Values)}
	for i, v := range t.Values {
		d := v - r.Mean
		squares += float64(float64(d*d) * t.share(i))
	}
	r.RMS = math.Sqrt(squares / weight)
	return r
}
