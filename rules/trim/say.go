package trim

import (
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// fractions of a turn, in eighths.
var fractions = [...]string{"", "an eighth of a turn", "a quarter of a turn", "three eighths of a turn", "half a turn", "five eighths of a turn", "three quarters of a turn", "seven eighths of a turn"}

// fraction says turns as a hand can do them: in eighths up to two turns, in
// halves up to five, then whole.
func fraction(turns float64) string {
	eighths := int(math.Round(turns * 8))
	switch {
	case eighths <= 0:
		return "a hair"
	case eighths < 8:
		return fractions[eighths]
	case eighths == 8:
		return "one turn"
	case eighths < 16:
		return "one turn and " + strings.TrimSuffix(fractions[eighths-8], " of a turn")
	case turns < 5:
		return capture.Figure(math.Round(turns*2)/2, halves(turns)) + " turns"
	}
	return capture.Figure(math.Round(turns), 1) + " turns"
}

func halves(turns float64) float64 {
	if h := math.Round(turns * 2); math.Mod(h, 2) == 0 {
		return 1
	}
	return 0.1
}

// distance prints a voltage's size with the digits that a trimmer is worth.
func (w *watch) distance(v float64) string {
	return capture.Volt.Text(math.Abs(v), w.rail.DistanceResolution(w.last.Resolution))
}

func (w *watch) volts(v float64) string {
	return capture.Volt.Text(v, max(w.last.Resolution, w.rail.DistanceResolution(0)))
}

// figure prints a difference with its expanded uncertainty.
func (w *watch) figure(d uncertainty.Statement) string {
	if !d.Stated || d.Expanded <= 0 {
		return capture.Volt.Text(d.Value, w.rail.DistanceResolution(w.last.Resolution))
	}
	res := digits(d.Expanded)
	return capture.Volt.Text(d.Value, res) + " ± " + capture.Volt.Text(d.Expanded, res) + " (k = 2)"
}

// digits is the resolution that leaves two significant digits (GUM 7.2.6).
func digits(u float64) float64 {
	if !(u > 0) || math.IsInf(u, 0) {
		return 0
	}
	return capture.Decade(u) / 10
}

// spoken is the value for an ear: units in full, one sentence each.
func spoken(t *capture.Trimming, distance, way, turn string) string {
	far := strings.NewReplacer(" mV", " millivolts", " V", " volts", " µV", " microvolts").Replace(distance)
	value := strings.Replace(capture.Figure(t.Value, t.Resolution), capture.MinusSign, "minus ", 1) + " volts."
	if t.Say == "On target" {
		return value + " On target."
	}
	in := ""
	if t.State == Inside {
		in = " Inside."
	}
	return fmt.Sprintf("%s%s %s %s. Turn %s.", value, in, far, way, turn)
}
