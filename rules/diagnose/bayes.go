package diagnose

import (
	"math"

	"steadyrail/capture/elementary"
)

// Entropy returns the Shannon entropy of probabilities in bit.
func Entropy(p []float64) float64 {
	var h float64
	for _, v := range p {
		if v > 0 {
			h -= float64(v * elementary.Log(v) / math.Ln2)
		}
	}
	return h
}

// Gain returns the expected drop of the entropy of p, in bit, when a
// measurement is made whose outcomes have the probabilities outcome[i] under
// explanation i: the mutual information H(outcome) − Σ p(i)·H(outcome|i).
func Gain(p []float64, outcome [][]float64) float64 { return gain(p, outcome, entropies(outcome)) }

func entropies(outcome [][]float64) []float64 {
	out := make([]float64, len(outcome))
	for i, o := range outcome {
		out[i] = Entropy(o)
	}
	return out
}

// gain is [Gain] with the entropies of the outcomes known.
func gain(p []float64, outcome [][]float64, h []float64) float64 {
	if len(p) == 0 {
		return 0
	}
	all := make([]float64, len(outcome[0]))
	var within float64
	for i, o := range outcome {
		for c, v := range o {
			all[c] += float64(p[i] * v)
		}
		within += float64(p[i] * h[i])
	}
	return max(0, Entropy(all)-within)
}

// Posterior multiplies priors by the product of each explanation's logarithms
// of likelihood and makes them add up to one. The largest logarithm is taken
// off first, so that nothing underflows together.
func Posterior(prior, logL []float64) []float64 {
	top := math.Inf(-1)
	for _, l := range logL {
		top = max(top, l)
	}
	out := make([]float64, len(prior))
	var sum float64
	for i := range prior {
		out[i] = float64(prior[i] * elementary.Exp(logL[i]-top))
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// bounded keeps the last explanation, which is what the sheet does not know,
// at least at [LeastOther], and each at most at [MostSure].
func bounded(p []float64) []float64 {
	other := len(p) - 1
	want := min(max(p[other], LeastOther), MostSure)
	rest := 1 - p[other]
	for i := range p[:other] {
		if rest > 0 {
			p[i] = float64(p[i]*(1-want)) / rest
		} else {
			p[i] = (1 - want) / float64(other)
		}
	}
	p[other] = want
	return p
}

// normal is the distribution function of the standard normal distribution.
func normal(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// surprised mixes the even spread of [surprise] into a prediction.
func surprised(p []float64) []float64 {
	out := make([]float64, len(p))
	for c, v := range p {
		out[c] = float64((1-surprise)*v) + surprise/float64(len(p))
	}
	return out
}
