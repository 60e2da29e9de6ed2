package standin

import (
	"math"

	"steadyrail/capture/elementary"
)

// Copper at 20 °C, in ohm metre, and its temperature coefficient there, per kelvin
// (IEC 60028, from memory).
const (
	copperOhmMetre = 1.7241e-8
	copperPerK     = 0.00393
)

// Warmed is a copper resistance known at 20 °C, at another temperature in °C.
func Warmed(ohm, celsius float64) float64 {
	return float64(ohm * (1 + float64(copperPerK*(celsius-20))))
}

// WireOhm is the resistance in ohm of a copper wire of an American gauge and a
// length in metre at 20 °C: d = 0.127 mm·92^((36−n)/39) (ASTM B258).
func WireOhm(gauge, metres float64) float64 {
	d := 0.127e-3 * elementary.Power(92, (36-gauge)/39)
	return float64(copperOhmMetre*metres) / float64(math.Pi/4*float64(d*d))
}

// TrackOhm is that of a board's track, length, width and thickness in metre, at
// 20 °C.
func TrackOhm(length, width, thickness float64) float64 {
	return float64(copperOhmMetre*length) / float64(width*thickness)
}
