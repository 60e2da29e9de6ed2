package sim

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// stream returns the seeded source of chance for one purpose. Purposes do not
// share a stream, so that one more reading of a meter does not change what the
// pianist plays.
func stream(seed uint64, purpose string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// between returns a number evenly spread over [lo, hi).
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// wander is a voltage that strays and comes back: an Ornstein-Uhlenbeck
// process, exact for any step length.
type wander struct {
	value    float64
	sd       float64 // standing deviation
	tau      float64 // seconds
	r        *rand.Rand
	dt       float64 // step that keep and kick belong to
	keep     float64
	kickSize float64
}

func (w *wander) step(dt float64) float64 {
	if dt != w.dt {
		w.dt, w.keep = dt, math.Exp(-dt/w.tau)
		w.kickSize = w.sd * math.Sqrt(1-w.keep*w.keep)
	}
	w.value = w.value*w.keep + w.kickSize*w.r.NormFloat64()
	return w.value
}
