package block

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"steadyrail/capture"
)

// mix is a channel after storage.md, "How it was measured": a rail of 9 V that
// warms up by 30 mV with a time constant of 8 minutes, Gaussian noise of
// 0.3 mV, 10 readings a second, one in 10,000 a time-out.
type mix struct {
	name     string
	step     float64 // volts, what the meter resolves
	text     string  // for fmt
	scale    float64 // range in volts
	jitter   float64 // microseconds around the grid, Gaussian
	dithered bool    // uniform over the interval instead
	exchange float64 // microseconds, of the half-width; 0: constant
}

const (
	every    = 100_000 // microseconds
	warmUp   = 0.030   // volts
	tau      = 480.0   // seconds
	noise    = 0.0003  // volts
	timeouts = 1e-4
)

var (
	bench6 = mix{name: "6.5-digits", step: 1e-5, text: "%+.6E", scale: 10, jitter: 2000}
	bench4 = mix{name: "4.5-digits", step: 1e-3, text: "%.3f", scale: 20, jitter: 2000}
)

func mixes() []mix {
	var out []mix
	for _, m := range []mix{bench6, bench4} {
		out = append(out, m)
		e := m
		e.name, e.exchange = m.name+"/exchange", 150
		out = append(out, e)
		d := m
		d.name, d.dithered = m.name+"/dithered", true
		out = append(out, d)
	}
	return out
}

// rows makes n readings, always the same.
func (m mix) rows(n int) []Row {
	rng := rand.New(rand.NewPCG(88, 0))
	rows := make([]Row, n)
	const begin = 1_700_000_000_000_000
	for i := range rows {
		at := int64(i) * every
		if m.dithered {
			at += rng.Int64N(every) - every/2
		} else {
			at += int64(math.Round(rng.NormFloat64() * m.jitter))
		}
		half := int64(1_500_000)
		if m.exchange > 0 {
			half += 500 * int64(math.Round(rng.NormFloat64()*m.exchange*2))
		}
		r := capture.Reading{Range: m.scale, HalfWidth: time.Duration(half), Ordinal: uint64(i + 1)}
		r.Measured = capture.Instant(begin + at - 20_000 - half/1000)
		if rng.Float64() < timeouts {
			r.Flags, r.Range = capture.TimedOut, 0
		} else {
			v := 9 + warmUp*(1-math.Exp(-float64(i)*every/1e6/tau)) + rng.NormFloat64()*noise
			r.Text = fmt.Sprintf(m.text, math.Round(v/m.step)*m.step)
			r.Value, _, _, _ = capture.ParseResponse(r.Text)
			r.Resolution = m.step
		}
		rows[i] = RowOf(capture.Instant(begin+at), 0, &r)
	}
	return rows
}

// floor returns the entropy of a reading in bytes: nobody who knows the
// schedule and the drift can do with less.
func (m mix) floor() float64 {
	bits := gaussian(m.jitter)
	if m.dithered {
		bits = math.Log2(every)
	}
	if m.exchange > 0 {
		bits += gaussian(m.exchange * 2)
	}
	status := -timeouts*math.Log2(timeouts) - (1-timeouts)*math.Log2(1-timeouts)
	return (bits + gaussian(noise/m.step) + status) / 8
}

// gaussian returns the entropy in bits of a Gaussian of the given sigma around
// an integer, rounded to integers.
func gaussian(sigma float64) float64 {
	h := 0.0
	below := func(x float64) float64 { return math.Erfc(-x/sigma/math.Sqrt2) / 2 }
	for x := 0.0; x < 1+9*sigma; x++ {
		p := below(-x+0.5) - below(-x-0.5)
		if p <= 0 {
			break
		}
		if h -= p * math.Log2(p); x > 0 {
			h -= p * math.Log2(p) // and the same above
		}
	}
	return h
}

// TestFloors checks the reckoned floors against those of the study.
func TestFloors(t *testing.T) {
	for _, c := range []struct {
		m    mix
		want float64 // bytes, storage.md, "The physical limit"
	}{{bench6, 2.496}, {bench4, 1.696}} {
		if got := c.m.floor(); math.Abs(got/c.want-1) > 0.01 {
			t.Errorf("%s: the floor is %.4f bytes, the study has %.4f", c.m.name, got, c.want)
		}
	}
}
