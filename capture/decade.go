package capture

import (
	"math"
	"strconv"
	"strings"
)

// Decade returns the power of ten at or below the magnitude of v, 0 of nought
// and of what is not finite: 0.01 of -0.0123. It goes by the decimal digits of v,
// for the last digit of a logarithm depends on the processor, and at a power of
// ten the whole digit hangs on it.
func Decade(v float64) float64 {
	power, ok := powerOf(v)
	if !ok {
		return 0
	}
	return math.Pow10(power)
}

// powerOf is the exponent of the leading decimal digit, false of nought and of what
// is not finite.
func powerOf(v float64) (int, bool) {
	_, exponent, _ := strings.Cut(strconv.FormatFloat(v, 'e', -1, 64), "e")
	power, err := strconv.Atoi(exponent)
	return power, v != 0 && err == nil
}
