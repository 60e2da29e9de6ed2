// Package testdata uses what a judgement may not, and what it may.
package testdata

import "math"

func bound(x float64) float64 {
	return math.Sqrt(math.Abs(math.Exp(x))) + math.Pow(x, 2) + math.Floor(x)
}
