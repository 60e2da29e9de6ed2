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
	_, exponent, _ := strings.Cut(strconv.FormatFloat(v, 'e', -1, 64), "e")
	power, err := strconv.Atoi(exponent)
	if v == 0 || err != nil {
		return 0
	}
	return math.Pow10(power)
}
