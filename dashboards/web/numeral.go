package web

import (
	"math"
	"strings"
	"unicode/utf8"

	"steadyrail/capture"
)

// numeral is a number split at its point, so that points stand under each
// other, with the digits below the present spread told apart.
type numeral struct {
	Int, Frac, Loose, Unit string
	Spoken                 string // for people who listen
}

// Width tells how broad a numeral is, for the sheet to pick its size: "" up to
// five digits, then "wide", "wider" and "widest". A minus counts as a digit.
func (n numeral) Width() string {
	switch signs := utf8.RuneCountInString(n.Int+n.Frac+n.Loose) - strings.Count(n.Frac, "."); {
	case signs > 8:
		return "widest"
	case signs > 6:
		return "wider"
	case signs > 5:
		return "wide"
	}
	return ""
}

// voltNumeral prints volts of a rail: always volts, never millivolts, so that
// lanes can be compared. Digits smaller than spread are loose.
func voltNumeral(value, resolution, spread float64) numeral {
	return split(capture.Figure(value, resolution), "V", "volts", spread)
}

// textNumeral prints a value with whatever prefix it reads best.
func textNumeral(u capture.Unit, value, resolution float64) numeral {
	figure, unit, _ := strings.Cut(strings.ReplaceAll(u.Text(value, resolution), nbsp, " "), " ")
	return split(figure, unit, u.Plural(), 0)
}

func split(figure, unit, spokenUnit string, spread float64) numeral {
	n := numeral{Unit: unit, Spoken: strings.Replace(figure, "\u2212", "minus ", 1) + " " + spokenUnit}
	if strings.HasPrefix(unit, "k") || strings.HasPrefix(unit, "M") || strings.HasPrefix(unit, "m") || strings.HasPrefix(unit, "µ") {
		n.Spoken = strings.Replace(figure, "\u2212", "minus ", 1) + " " + unit
	}
	whole, frac, ok := strings.Cut(figure, ".")
	n.Int = whole
	if !ok {
		return n
	}
	firm := len(frac)
	for firm > 1 && math.Pow(10, -float64(firm)) < spread*0.999 {
		firm--
	}
	n.Frac, n.Loose = "."+frac[:firm], frac[firm:]
	return n
}

// spread returns greatest minus least of the newest readings of a trace: what
// the last few seconds say about how firm the digits are.
func spread(trace []capture.Bucket) float64 {
	for i := len(trace) - 1; i >= 0; i-- {
		if b := trace[i]; b.N > 1 {
			return b.Max - b.Min
		}
	}
	return 0
}

// band is the drawing of a tolerance band: places in per cent of its width,
// with two half-bands from the target to either end.
type band struct {
	Tone     tone
	At       float64 // middle of the mark
	WhiskerX float64
	WhiskerW float64
	Size     int // of the mark, px
	Label    string
}

// Half is minus half the mark's size, to draw it around its own middle.
func (b band) Half() int { return -b.Size / 2 }

const bandSpan = 2.0

func drawBand(r capture.Rail, t tone, value, uncertainty float64, label string) band {
	b := band{Tone: t, Size: 30, Label: label}
	place := func(at float64) float64 { return math.Max(4, math.Min(96, 50+at/bandSpan*50)) }
	b.At = round1(place(deviation(r, value)))
	if t.Bad() {
		b.Size = 36
	}
	if half := r.HalfBand(); uncertainty > 0 && half > 0 {
		w := uncertainty / half / bandSpan * 50
		from, to := math.Max(0, b.At-w), math.Min(100, b.At+w)
		b.WhiskerX, b.WhiskerW = round1(from), round1(to-from)
	}
	return b
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }
