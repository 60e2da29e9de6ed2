package capture

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ErrNotANumber is wrapped by every refusal to read a number.
var ErrNotANumber = errors.New("not a number")

// numberError is a refusal with a sentence that says how to write it right.
type numberError struct {
	text, why string
}

func (e *numberError) Error() string { return quoteShort(e.text) + ": " + e.why }
func (e *numberError) Unwrap() error { return ErrNotANumber }

// refuse builds a numberError about the text that was read.
func refuse(text, format string, args ...any) error {
	return &numberError{text, fmt.Sprintf(format, args...)}
}

// quoteShort quotes what was received, cut to a length that fits a log line.
func quoteShort(s string) string {
	const limit = 48
	if len(s) > limit {
		return strconv.QuoteToASCII(s[:limit]) + "..."
	}
	return strconv.QuoteToASCII(s)
}

// DecimalMark is what separates units from tenths where people type and read.
// Files, metrics and the API always use the point.
type DecimalMark byte

// The marks. The zero value is the point.
const (
	Point DecimalMark = iota
	Comma
)

// String returns "point" or "comma".
func (m DecimalMark) String() string {
	if m == Comma {
		return "comma"
	}
	return "point"
}

// ParseDecimalMark is the inverse of String; empty is the point.
func ParseDecimalMark(s string) (DecimalMark, error) {
	switch s {
	case "", "point":
		return Point, nil
	case "comma":
		return Comma, nil
	}
	return Point, fmt.Errorf("unknown decimal mark %q: use point or comma", s)
}

// MarshalText writes String.
func (m DecimalMark) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads String.
func (m *DecimalMark) UnmarshalText(b []byte) error {
	v, err := ParseDecimalMark(string(b))
	*m = v
	return err
}

// Write turns a figure of [Figure] or [Unit.Text] into one with this mark.
func (m DecimalMark) Write(figure string) string {
	if m == Comma {
		return strings.ReplaceAll(figure, ".", ",")
	}
	return figure
}

// MinusSign is the true minus, U+2212, that people read. Names, files and the
// API keep the hyphen.
const MinusSign = "\u2212"

// TrueMinus turns every hyphen that begins a number into a true minus:
// "-12 V audio" to "−12 V audio". "take-in" stays as it is.
func TrueMinus(s string) string {
	if !strings.Contains(s, "-") {
		return s
	}
	var out strings.Builder
	for i := 0; i < len(s); i++ {
		starts := i == 0 || strings.IndexByte(" (:,;±\u00a0", s[i-1]) >= 0
		if s[i] == '-' && starts && i+1 < len(s) && isDigit(s[i+1]) {
			out.WriteString(MinusSign)
			continue
		}
		out.WriteByte(s[i])
	}
	return out.String()
}

// noFigure stands where there is no finite number.
const noFigure = "no value"

// mostDecimals bounds what a wild resolution can make anyone print.
const mostDecimals = 18

// Figure prints v with the digits that resolution allows (base unit, one count
// of the last digit), with a true minus sign and a point. A resolution of 10 or
// more rounds to tens, hundreds and so on. Resolution 0 means not known, or
// declared and not measured: at most six significant digits, without trailing
// zeros. What is not finite prints as "no value".
func Figure(v, resolution float64) string {
	if !finite(v) {
		return noFigure
	}
	if resolution >= 10 {
		v = roundTo(v, resolution)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', Decimals(resolution, v), 64)
	if v < 0 && strings.Trim(s, "0.") != "" { // no minus on what rounds to zero
		return MinusSign + s
	}
	return s
}

// Decimals returns how many decimals a resolution allows for v.
func Decimals(resolution, v float64) int {
	if known(resolution) {
		return min(mostDecimals, max(0, -decade(resolution)))
	}
	if v == 0 || !finite(v) {
		return 0
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'e', 5, 64), "e")
	power, _ := strconv.Atoi(exponent)
	digits := len(strings.TrimRight(strings.Replace(mantissa, ".", "", 1), "0"))
	return min(mostDecimals, max(0, digits-1-power))
}

// Text prints a value with its unit for people: "5.012 V", "1.92 kΩ",
// "−12.14 V". The prefix follows the value, the digits the resolution: a small
// prefix is taken only when the resolution reaches down to it. Volts, amperes
// and ohms stay without a prefix from 0.1 up. The space is an ordinary one.
func (u Unit) Text(v, resolution float64) string {
	if !finite(v) {
		return noFigure
	}
	p := u.prefixOf(v, resolution)
	s := Figure(v/p.scale, resolution/p.scale)
	if unit := p.letter + u.Symbol(); unit != "" {
		s += " " + unit
	}
	return s
}

// prefix is a step of a unit's ladder: it is used for magnitudes from here up.
type prefix struct {
	letter string
	scale  float64
	from   float64 // magnitude in the base unit
}

// ladders holds the prefixes that people at a bench read, largest first.
// Capacitors are 1000 µF and 100 nF in this trade, never 1 mF or 0.1 µF.
var ladders = [...][]prefix{
	Volt:   {{"k", 1e3, 1e3}, {"", 1, 0.1}, {"m", 1e-3, 1e-4}, {"µ", 1e-6, 0}},
	Ampere: {{"", 1, 0.1}, {"m", 1e-3, 1e-4}, {"µ", 1e-6, 1e-7}, {"n", 1e-9, 0}},
	Ohm:    {{"G", 1e9, 1e9}, {"M", 1e6, 1e6}, {"k", 1e3, 1e3}, {"", 1, 0.1}, {"m", 1e-3, 0}},
	Farad:  {{"", 1, 0.1}, {"µ", 1e-6, 1e-6}, {"n", 1e-9, 1e-9}, {"p", 1e-12, 0}},
	Hertz:  {{"G", 1e9, 1e9}, {"M", 1e6, 1e6}, {"k", 1e3, 1e3}, {"", 1, 0}},
	Watt:   {{"k", 1e3, 1e3}, {"", 1, 0.1}, {"m", 1e-3, 1e-4}, {"µ", 1e-6, 0}},
	Second: {{"", 1, 0.1}, {"m", 1e-3, 1e-4}, {"µ", 1e-6, 1e-7}, {"n", 1e-9, 0}},
	Henry:  {{"", 1, 0.1}, {"m", 1e-3, 1e-3}, {"µ", 1e-6, 1e-6}, {"n", 1e-9, 0}},
	Metre:  {{"", 1, 1}, {"m", 1e-3, 1e-4}, {"µ", 1e-6, 0}},
}

// prefixOf chooses by the rounded magnitude, so that 999.96 at a resolution of
// 0.1 is 1.0000 k and not 1000.0.
func (u Unit) prefixOf(v, resolution float64) prefix {
	none := prefix{"", 1, 0}
	if !units[u].prefixes || int(u) >= len(ladders) {
		return none
	}
	size := math.Abs(roundTo(v, resolution))
	if size == 0 {
		return none
	}
	ladder := ladders[u]
	at := len(ladder) - 1
	for i, p := range ladder {
		if size >= p.from*(1-1e-12) {
			at = i
			break
		}
	}
	for at > 0 && known(resolution) && resolution > ladder[at].scale*(1+1e-9) {
		at--
	}
	return ladder[at]
}

// known reports whether a resolution tells anything.
func known(resolution float64) bool { return resolution > 0 && !math.IsInf(resolution, 1) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// decade returns the power of ten of a resolution's leading digit: -3 for
// 0.001 and for 0.002. One that a computation left a hair below a power of ten is
// that power.
func decade(resolution float64) int {
	power, ok := powerOf(float64(resolution * (1 + hair)))
	if !ok {
		power, _ = powerOf(resolution)
	}
	return power
}

// hair is by which part a resolution may be below a power of ten and still is it.
const hair = 2.3e-9

// roundTo rounds v to the decade of its resolution; below that it is noise.
func roundTo(v, resolution float64) float64 {
	if !known(resolution) {
		return v
	}
	d := decade(resolution)
	if d < -mostDecimals {
		return v
	}
	var out float64
	if step := math.Pow10(abs(d)); d < 0 {
		out = math.Round(v*step) / step
	} else {
		out = math.Round(v/step) * step
	}
	if !finite(out) { // v times step left the range: v is coarser than that anyway
		return v
	}
	return out
}

func abs(i int) int { return max(i, -i) }
