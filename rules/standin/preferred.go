package standin

import (
	"math"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Series is a series of preferred numbers of IEC 60063: how many there are to a
// decade.
type Series int

// The series.
const (
	E3  Series = 3
	E6  Series = 6
	E12 Series = 12
	E24 Series = 24
	E48 Series = 48
	E96 Series = 96
)

// old is E24, whose values up to here are older than the rule: they differ from
// it at 27 to 47 and 82. E3 to E12 are every eighth, fourth and second of it.
var old = []float64{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// Values returns a decade of the series: from 10 for E24 and below, from 100
// above, where it is 10^(i/n) to three figures.
func (s Series) Values() (out []float64) {
	if s <= E24 {
		for i := 0; i < len(old); i += int(E24 / s) {
			out = append(out, old[i])
		}
		return out
	}
	for i := range int(s) {
		out = append(out, math.Round(100*elementary.Power(10, float64(i)/float64(s))))
	}
	return out
}

// Side says which neighbour is wanted.
type Side int

// The sides.
const (
	Closest Side = iota
	Below        // the largest that is not above
	Above        // the smallest that is not below
)

// Nearest returns the value of the series next to v, which is above zero; the
// closest by absolute difference, the lower of two that are as close.
func Nearest(v float64, s Series, side Side) float64 {
	decade := s.Values()
	scale := capture.Decade(v) / decade[0]
	list := []float64{decade[len(decade)-1] / 10}
	list = append(list, decade...)
	list = append(list, 10*decade[0])
	for i := range list {
		list[i] = float64(list[i] * scale)
	}
	// 4.7 kΩ times a power of ten is not always 4.7 kΩ to the last bit.
	slack := float64(1e-9 * v)
	i := slices.IndexFunc(list, func(x float64) bool { return x >= v-slack })
	switch {
	case side == Above || math.Abs(list[i]-v) <= slack:
		return list[i]
	case side == Below:
		return list[i-1]
	case v-list[i-1] <= list[i]-v:
		return list[i-1]
	}
	return list[i]
}
