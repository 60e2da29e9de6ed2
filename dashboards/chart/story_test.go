package chart

import (
	"math"
	"math/rand/v2"
	"time"

	"steadyrail/capture"
)

// The invented night of the demo's set: eight hours, one collapse, a blind
// stretch, a case that warms.
var (
	berlin  = time.FixedZone("CET", 3600)
	start   = capture.InstantOf(time.Date(2031, 3, 11, 22, 41, 0, 0, berlin))
	end     = capture.InstantOf(time.Date(2031, 3, 12, 6, 41, 0, 0, berlin))
	fall    = capture.InstantOf(time.Date(2031, 3, 12, 3, 17, 42, 0, berlin))
	asleep  = capture.InstantOf(time.Date(2031, 3, 12, 1, 32, 10, 0, berlin))
	awake   = capture.InstantOf(time.Date(2031, 3, 12, 1, 34, 51, 0, berlin))
	plus5   = capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	minus12 = capture.Rail{Name: "−12 V audio", Nominal: -12, Target: -12, Bounds: capture.Bounds{Low: -12.6, High: -11.4}}
)

func night(r capture.Rail) []capture.Bucket {
	roll := rand.New(rand.NewPCG(1, 147))
	var out []capture.Bucket
	scale := r.Nominal / 5
	for t := start; t < end; t = t.Add(15 * time.Second) {
		if t > asleep && t < awake {
			continue
		}
		h := t.Sub(start).Hours()
		mean := 5.021 - .012*(1-math.Exp(-h/.6)) + .002*math.Sin(h*3)
		b := capture.Bucket{From: t, To: t.Add(15 * time.Second), N: 75, Min: scale * (mean - .004 - .003*roll.Float64()), Max: scale * (mean + .004 + .003*roll.Float64()), Mean: scale * mean, Last: scale * mean}
		if b.Min > b.Max {
			b.Min, b.Max = b.Max, b.Min
		}
		if fall >= b.From && fall < b.To {
			if r.Nominal > 0 {
				b.Min = 3.087
			} else {
				b.Max = -7.41
			}
		}
		out = append(out, b)
	}
	return out
}

func warmth() []capture.Bucket {
	var out []capture.Bucket
	for t := start; t < end; t = t.Add(time.Minute) {
		c := 24 + 21*(1-math.Exp(-t.Sub(start).Hours()/.6))
		out = append(out, capture.Bucket{From: t, To: t.Add(time.Minute), N: 60, Min: c - .2, Max: c + .2, Mean: c, Last: c})
	}
	return out
}

func nightModel(r capture.Rail) RailModel {
	return RailModel{
		Rail: r, Series: night(r), Resolution: .001, Zone: berlin,
		Below: []Strip{{Name: "stand-in case", Quantity: capture.Temperature, Series: warmth(), Resolution: .1}},
		Marks: []Mark{
			{At: start.Add(25 * time.Minute), Word: "covers on"},
			{At: asleep, Word: "meter asleep"},
			{At: fall, Kind: Alarm, Word: "collapse 03:17:42"},
		},
	}
}

func fallPoints(sign float64) []capture.Point2 {
	values := []float64{5.011, 5.012, 5.011, 5.010, 5.011, 5.012, 5.011, 3.087, 3.412, 4.968, 5.017, 5.011, 5.011, 5.012}
	var out []capture.Point2
	for i, v := range values {
		out = append(out, capture.Point2{At: fall.Add(time.Duration(i-7) * 200 * time.Millisecond), Value: sign * v, Good: true})
	}
	return out
}
