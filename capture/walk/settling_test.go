package walk

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// charge is the closed form of a constant current into R and C from a value
// that was there at the touch: v(t) = R - (R - v0) e^(-t/RC).
func charge(r, v0, tau, t float64) float64 { return r - (r-v0)*math.Exp(-t/tau) }

// Against the closed form: whatever the time constant, what is called steady has
// no more than twice the tolerance to go, and it is not called so long after.
func TestSteadyOnTheChargingLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := math.Pow(10, rapid.Float64Range(1, 5).Draw(t, "log R"))
		tau := math.Pow(10, rapid.Float64Range(-1.5, 1).Draw(t, "log tau"))
		v0 := 0.05 * r * rapid.Float64Range(0, 1).Draw(t, "v0")
		every := time.Duration(rapid.Int64Range(50, 400).Draw(t, "ms")) * time.Millisecond
		noise := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		var s settling
		tol, scatter := 0.05*r, 0.0005*r
		for at := time.Duration(0); at < 12*time.Duration(tau*float64(time.Second))+10*time.Second; at += every {
			v := charge(r, v0, tau, at.Seconds()) + scatter*noise.NormFloat64()
			s.add(capture.Instant(1).Add(at), v)
			stands, _ := s.steady(0.05*v, scatter)
			rest := r - charge(r, v0, tau, at.Seconds())
			if stands && rest > 2*tol {
				t.Fatalf("steady after %v with %.1f %% to go", at, 100*rest/r)
			}
			if stands {
				return
			}
		}
		t.Fatalf("never steady")
	})
}

// A slope test would call this steady at once: a hundred seconds of time constant,
// hardly a change from reading to reading, nearly everything still to come.
func TestASlowCreepIsNotSteady(t *testing.T) {
	var s settling
	for i := range 150 { // 30 s of 100
		at := capture.Instant(i) * 200_000
		s.add(at, charge(10_000, 0, 100, at.Sub(0).Seconds()))
		if stands, _ := s.steady(0.05*s.mean(), 1); stands {
			t.Fatalf("steady at reading %d, %.0f of 10000 ohm", i, s.mean())
		}
	}
}

// The time that is said to be left is about right from one time constant on.
func TestTimeLeft(t *testing.T) {
	var s settling
	const tau, r = 2.2, 4700.0
	ends := tau * math.Log(1/0.05)
	for i := range 40 {
		at := capture.Instant(i) * 200_000
		s.add(at, charge(r, 0, tau, at.Sub(0).Seconds()))
		stands, more := s.steady(0.05*r, 1)
		want := ends - at.Sub(0).Seconds()
		if stands && want > 0.3 || at.Sub(0).Seconds() > tau && !stands && math.Abs(more.Seconds()-want) > 0.4 {
			t.Errorf("after %.1f s: stands %t, %.1f s more, want %.1f", at.Sub(0).Seconds(), stands, more.Seconds(), want)
		}
	}
}
