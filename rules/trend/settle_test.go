package trend_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// part is one exponential of a warm-up.
type part struct {
	volts float64
	tau   time.Duration
}

// warmUp simulates readings each second: 5 V less what each part still has to
// go, with normal noise of 0.3 mV, rounded to the resolution.
func warmUp(seed uint64, span time.Duration, resolution float64, parts ...part) []trend.Point {
	r := rand.New(rand.NewPCG(seed, 1))
	var out []trend.Point
	for t := time.Duration(0); t <= span; t += time.Second {
		v := 5 - toGo(t, parts) + 0.3e-3*r.NormFloat64()
		if resolution > 0 {
			v = math.Round(v/resolution) * resolution
		}
		out = append(out, trend.Point{At: capture.Instant(1_700_000_000_000_000).Add(t), V: v})
	}
	return out
}

func toGo(t time.Duration, parts []part) (volts float64) {
	for _, p := range parts {
		volts += p.volts * math.Exp(-t.Seconds()/p.tau.Seconds())
	}
	return volts
}

// A study for this project, the plain warm-up: 30 mV, time constant 8 min. The
// test "below 1 mV/min" called it settled at 12 min with 6.7 mV to go.
var single = []part{{0.030, 8 * time.Minute}}

// The same study, the worse one: 20 mV in 2 min and 15 mV in 25 min.
var double = []part{{0.020, 2 * time.Minute}, {0.015, 25 * time.Minute}}

// Whatever the warm-up, at every minute: if it is called settled, less than the
// limit is left. Five in a hundred may be wrong; this seed has far fewer.
func TestSettledMeansSettled(t *testing.T) {
	for name, parts := range map[string][]part{"single": single, "double": double, "slow": {{0.02, 50 * time.Minute}}, "downwards": {{-0.03, 8 * time.Minute}}} {
		for _, limit := range []float64{1e-3, 3e-3, 10e-3} {
			wrong, called := 0, 0
			for seed := range uint64(12) {
				all := warmUp(seed, 90*time.Minute, 0, parts...)
				for m := 5; m <= 90; m += 5 {
					s := trend.Settle(all[:m*60+1], trend.SettleOptions{Limit: limit, Unit: capture.Volt})
					if !s.Settled {
						continue
					}
					called++
					if math.Abs(toGo(time.Duration(m)*time.Minute, parts)) > limit {
						wrong++
					}
				}
			}
			t.Logf("%s, limit %g mV: called settled %d times, %d wrong", name, limit*1e3, called, wrong)
			if wrong*20 > called {
				t.Errorf("%s, limit %g V: %d of %d calls of settled were wrong", name, limit, wrong, called)
			}
		}
	}
}

func TestSettleFindsWhatRemains(t *testing.T) {
	const span = 32 * time.Minute // four time constants
	for seed := range uint64(20) {
		s := trend.Settle(warmUp(seed, span, 0, single...), trend.SettleOptions{Limit: 1e-3, Unit: capture.Volt})
		left := toGo(span, single)
		if !s.Known || math.Abs(s.Remaining-left) > 3*s.U || s.U > 0.5e-3 {
			t.Errorf("seed %d: %.2f ± %.2f mV remain (known %v), truth %.2f mV", seed, s.Remaining*1e3, s.U*1e3, s.Known, left*1e3)
		}
		if s.Tau < 6*time.Minute || s.Tau > 10*time.Minute {
			t.Errorf("seed %d: time constant %s, truth 8 min", seed, s.Tau)
		}
	}
}

// At 12 min slope alone lied. Here nothing is settled, and no end is foretold
// before two time constants were watched.
func TestNoPredictionBeforeTwoTimeConstants(t *testing.T) {
	for seed := range uint64(20) {
		s := trend.Settle(warmUp(seed, 12*time.Minute, 0, single...), trend.SettleOptions{Limit: 3e-3, LeastWatch: time.Minute, Unit: capture.Volt})
		if s.Settled || s.Known || s.Remaining != 0 {
			t.Errorf("seed %d: settled %v, known %v, %g", seed, s.Settled, s.Known, s.Remaining)
		}
		left := toGo(12*time.Minute, single)
		if s.AtLeast > left || s.AtLeast < left/4 || !strings.HasPrefix(s.Say, "Not yet: at least ") {
			t.Errorf("seed %d: at least %.2f mV of %.2f mV: %q", seed, s.AtLeast*1e3, left*1e3, s.Say)
		}
	}
}

// A study for this project, table of two time constants. A single exponential fitted to
// 5 or 10 minutes leaves pure noise and foretells 4.9884 and 4.9898 V; fitted to
// 30 it foretells less than was already reached. The truth is 5.0000 V.
func TestSlowerWarmingIsNotTakenForTheEnd(t *testing.T) {
	for _, span := range []time.Duration{5 * time.Minute, 10 * time.Minute, 30 * time.Minute} {
		noticed := 0
		for seed := range uint64(20) {
			s := trend.Settle(warmUp(seed, span, 0, double...), trend.SettleOptions{Limit: 3e-3, Unit: capture.Volt})
			if s.Settled {
				t.Errorf("%s, seed %d: called settled with %.1f mV to go", span, seed, toGo(span, double)*1e3)
			}
			if left := toGo(span, double); s.Known && math.Abs(s.Remaining-left) > 3*s.U+left/2 {
				t.Errorf("%s, seed %d: foretold %.2f ± %.2f mV, truth %.2f mV", span, seed, s.Remaining*1e3, s.U*1e3, left*1e3)
			}
			if s.Slower {
				noticed++
			}
		}
		t.Logf("%s: the slower warming was noticed in %d of 20", span, noticed)
		if span == 30*time.Minute && noticed < 15 {
			t.Errorf("at 30 min the slower warming was noticed in %d of 20", noticed)
		}
	}
}

func TestSettleOfQuietSeries(t *testing.T) {
	flat := warmUp(1, 40*time.Minute, 0, part{0, time.Minute})
	if s := trend.Settle(flat, trend.SettleOptions{Limit: 1e-3, Unit: capture.Volt}); !s.Settled || !strings.HasPrefix(s.Say, "Settled: at most ") {
		t.Errorf("a quiet rail: %+v", s)
	}
	if s := trend.Settle(flat[:600], trend.SettleOptions{Limit: 1e-3, Unit: capture.Volt}); s.Settled || s.Say != "Not yet: watched 9 of 30 min" {
		t.Errorf("ten minutes: %+v", s)
	}
	// Digits that never change: 10 mV resolution cannot prove 1 mV.
	coarse := warmUp(1, 40*time.Minute, 0.01, part{0, time.Minute})
	if s := trend.Settle(coarse, trend.SettleOptions{Limit: 1e-3, Unit: capture.Volt, Resolution: 0.01}); s.Settled {
		t.Errorf("a coarse meter: %+v", s)
	}
	for _, few := range [][]trend.Point{nil, flat[:1], flat[:5]} {
		if s := trend.Settle(few, trend.SettleOptions{Limit: 1e-3}); s.Settled || s.Say != "Not yet: too few readings" {
			t.Errorf("%d readings: %+v", len(few), s)
		}
	}
}
