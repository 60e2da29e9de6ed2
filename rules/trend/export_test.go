package trend

// What only the tests call: the parts of fits and tests by themselves, held
// against published values.

// MannKendall is the test without a correction for correlation.
func MannKendall(y []float64) Kendall { return kendall(y, 1) }

// FitLinear fits y = b1·c1 + b2·c2 + … by QR; for an intercept give a column
// of ones. Columns shorter than y are refused as [ErrTooFew].
func FitLinear(y []float64, columns ...[]float64) (Fit, error) {
	if len(y) <= len(columns) || len(columns) == 0 {
		return Fit{}, ErrTooFew
	}
	for _, c := range columns {
		if len(c) < len(y) {
			return Fit{}, ErrTooFew
		}
	}
	s := newSearch(y, make([]float64, len(columns)), linear(columns))
	if !s.linearise() {
		return Fit{}, ErrNotFinite
	}
	s.polish() // the first step solves it, the next ones mend the rounding
	return s.result()
}

func linear(columns [][]float64) Model {
	return func(i int, b, slope []float64) (v float64) {
		for j, c := range columns {
			slope[j] = c[i]
			v += float64(c[i] * b[j])
		}
		return v
	}
}

// ShiftOf holds charts over values that stand for blocks a second apart.
func ShiftOf(y []float64) Shift {
	x := make([]float64, len(y))
	for i := range x {
		x[i] = float64(i)
	}
	return shiftOf(x, y, 0)
}
