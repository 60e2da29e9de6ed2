package trim

import (
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// home is the pitch of the band, in hertz. The chord is a major triad on it in
// just intonation: 4:5:6.
const home = 660.0

// toneOf is what a rail sounds like at a deviation in half-bands. From an edge of
// the band to ten half-bands beyond pitch and pace change, most of it near home.
// Below it is single pips from 330 Hz upwards, above double pips from 990 Hz
// downwards: rhythm tells them apart for those who do not hear pitch.
func toneOf(state string, deviation float64) capture.Tone {
	switch state {
	case NoReading:
		return capture.Tone{Hz: []float64{110}, Every: 2 * time.Second, Pips: 1, Long: 50 * time.Millisecond}
	case CannotTell:
		return capture.Tone{Hz: []float64{home}, Every: 500 * time.Millisecond, Pips: 1, Long: 400 * time.Millisecond}
	case Inside:
		return capture.Tone{Hz: []float64{home, home * 5 / 4, home * 6 / 4}}
	}
	bend := elementary.Power(min(1, max(0, math.Abs(deviation)-1)/9), 0.45)
	out := capture.Tone{Pips: 1, Every: time.Duration((140 + float64(560*bend)) * 1e6), Long: 60 * time.Millisecond}
	if state == High {
		out.Pips, out.Hz = 2, []float64{home * elementary.Power(1.5, bend)}
		return out
	}
	out.Hz = []float64{home * elementary.Power(2, -bend)}
	return out
}
