package sim

import (
	"fmt"
	"math"
	"strconv"
)

// nr3 prints a setting in the NR3 form of IEEE 488.2.
func nr3(v float64) string { return fmt.Sprintf("%+.8E", v) }

// scaled prints a reading in NR3 with the exponent of its range, a multiple of
// three, and exactly the digits that the resolution allows: what the display
// shows, and no digit that was not measured.
func scaled(v, span, resolution float64) string {
	exp := 3 * int(math.Floor((math.Log10(span)+1e-9)/3))
	decimals := max(1, exp-int(math.Floor(math.Log10(resolution)+1e-9)))
	text := strconv.FormatFloat(v/math.Pow10(exp), 'f', decimals, 64)
	if text[0] != '-' {
		text = "+" + text
	}
	return fmt.Sprintf("%sE%+03d", text, exp)
}

// rounded prints in NR2 with so many decimals.
func rounded(v float64, decimals int) string {
	return strconv.FormatFloat(v, 'f', decimals, 64)
}
