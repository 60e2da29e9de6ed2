package standin

import (
	"math"

	"steadyrail/capture"
)

// Figure is a number in the base unit of its quantity with where it comes from.
// One without a source was not stated, whatever its value.
type Figure struct {
	Value  float64 `json:"value"`
	U      float64 `json:"u,omitempty"` // expanded uncertainty, k = 2; 0: a guaranteed end
	Source string  `json:"source"`      // "data sheet, table 6.5", "measured at 14:02 with dmm"
}

// Stated reports whether somebody said it, and said a number.
func (f Figure) Stated() bool {
	return f.Source != "" && !math.IsNaN(f.Value) && !math.IsInf(f.Value, 0)
}

// Answer is yes, no, or not known.
type Answer string

// The answers. The zero value is not known.
const (
	Unsaid Answer = ""
	Yes    Answer = "yes"
	No     Answer = "no"
)

// Word is what a check comes to.
type Word string

// The words, from good to bad but for the last three.
const (
	Fits       Word = "fits"
	CannotTell Word = "cannot tell"
	Unfit      Word = "does not fit"
	NotStated  Word = "not stated"
	NotChecked Word = "not checked"
	NotNeeded  Word = "not needed"
)

// Check is the answer to one question.
type Check struct {
	Name   string   `json:"name"`
	Word   Word     `json:"word"`
	Value  float64  `json:"value"`           // what comes of it, base unit
	Limit  float64  `json:"limit"`           // what it was held against, base unit
	Unit   string   `json:"unit,omitempty"`  // ASCII; "" when there is no figure
	Say    string   `json:"say"`             // a sentence
	Basis  string   `json:"basis,omitempty"` // the formula, and according to whom
	Source []string `json:"source,omitempty"`
}

// lack names the figures that were not stated.
func lack(list ...named) (missing []string) {
	for _, n := range list {
		if !n.f.Stated() {
			missing = append(missing, n.name)
		}
	}
	return missing
}

type named struct {
	name string
	f    Figure
}

// sources lists where figures come from, each once, in order.
func sources(list ...named) (out []string) {
	for _, n := range list {
		s := n.name + ": " + n.f.Source
		if n.f.Stated() {
			out = append(out, s)
		}
	}
	return out
}

// under holds a value against the most it may be.
func under(value, limit, u float64) Word {
	value, u = float64(value), float64(u) // products of the caller: never fused with the sums below
	switch {
	case value+u <= limit:
		return Fits
	case value-u > limit:
		return Unfit
	}
	return CannotTell
}

// over holds a value against the least it must be.
func over(value, limit, u float64) Word { return under(-value, -limit, u) }

// root combines independent uncertainties.
func root(parts ...float64) float64 {
	var sum float64
	for _, p := range parts {
		sum += float64(p * p)
	}
	return math.Sqrt(sum)
}

// text prints a figure with three significant digits: what follows from a data
// sheet is known no better.
func text(u capture.Unit, v float64) string {
	if u == capture.Farad {
		return u.Text(v, min(step(v), 1e-6)) // 1000 µF, as it is printed on them
	}
	return u.Text(v, step(v))
}

func step(v float64) float64 {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0.01
	}
	return capture.Decade(float64(v*(1+2e-9))) / 100 // a tenth may be worked out as a little less
}
