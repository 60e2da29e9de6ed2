package uncertainty

import (
	"errors"
	"fmt"
	"math"
)

// Distribution is what is known of the shape of a component.
type Distribution uint8

// The distributions of GUM 4.3 and 4.4. The zero value is normal.
const (
	Normal Distribution = iota
	Rectangular
	Triangular
	Arcsine // U-shaped: a cycle
)

var distributionNames = [...]string{"normal", "rectangular", "triangular", "arcsine"}

// String returns the name.
func (d Distribution) String() string { return distributionNames[d] }

// divisor takes a half-width to a standard uncertainty: √3, √6, √2 (GUM 4.3.7,
// 4.3.9; arcsine from memory of H.1.3.4).
func (d Distribution) divisor() float64 {
	return [...]float64{1, math.Sqrt(3), math.Sqrt(6), math.Sqrt2}[d]
}

// Component is one line of a budget. Value is a half-width for every
// distribution but normal, where it is the standard deviation; it is divided by
// the square root of Readings. Everything is in the unit of its own quantity.
type Component struct {
	Name         string
	Detail       string // "0.5 % of reading + 2 counts"
	Value        float64
	Distribution Distribution
	Readings     float64 // that count as independent; 0 and 1: not a mean
	Sensitivity  float64 // of the result; 0: it does not matter in first order
	Degrees      float64 // of freedom; 0: so well known that it does not count
	Source       string
}

// Divisor is what Value is divided by.
func (c Component) Divisor() float64 {
	return c.Distribution.divisor() * math.Sqrt(max(1, c.Readings))
}

// Standard returns the standard uncertainty of the component itself.
func (c Component) Standard() float64 { return c.Value / c.Divisor() }

// Share returns what it adds to the result's standard uncertainty, with sign.
func (c Component) Share() float64 { return float64(c.Sensitivity * c.Standard()) }

// Correlation is the coefficient between two components, by their index.
type Correlation struct {
	A, B int
	R    float64
}

// Budget is a list of components. Those that no correlation names are
// independent.
type Budget struct {
	Components   []Component
	Correlations []Correlation
}

// Combined is the standard uncertainty of a result and how well it is known.
type Combined struct {
	Standard float64
	Degrees  float64 // effective degrees of freedom; +Inf: as many as one likes
}

// ErrBudget is wrapped by what is wrong with a budget.
var ErrBudget = errors.New("budget cannot be combined")

// Combine follows GUM 5.1.2 (independent) and 5.2.2 (correlated) for the
// standard uncertainty, and G.4.1 (Welch-Satterthwaite) for the degrees of
// freedom, which hold for independent components.
func (b Budget) Combine() (Combined, error) {
	variance, spread := 0.0, 0.0
	for _, c := range b.Components {
		u := c.Share()
		if math.IsNaN(u) || math.IsInf(u, 0) || c.Value < 0 || c.Degrees < 0 {
			return Combined{}, fmt.Errorf("%w: component %s has no finite uncertainty of zero or more", ErrBudget, c.Name)
		}
		square := float64(u * u)
		variance += square
		if c.Degrees > 0 {
			spread += float64(square*square) / c.Degrees
		}
	}
	cross, err := b.cross()
	if err != nil {
		return Combined{}, err
	}
	out := Combined{Standard: math.Sqrt(max(0, variance+cross)), Degrees: math.Inf(1)}
	if v := float64(out.Standard * out.Standard); spread > 0 {
		out.Degrees = float64(v*v) / spread
	}
	return out, nil
}

// cross is the sum of the correlated terms, 2 r u_i u_j.
func (b Budget) cross() (sum float64, err error) {
	for _, k := range b.Correlations {
		if k.A < 0 || k.B < 0 || k.A >= len(b.Components) || k.B >= len(b.Components) || k.A == k.B || !(math.Abs(k.R) <= 1) {
			return 0, fmt.Errorf("%w: correlation of %d and %d with r = %g", ErrBudget, k.A, k.B, k.R)
		}
		sum += float64(float64(2*k.R) * float64(b.Components[k.A].Share()*b.Components[k.B].Share()))
	}
	return sum, nil
}

// Weight is the part of u² that an independent component makes, 0 to 1.
func (c Combined) Weight(part Component) float64 {
	if !(c.Standard > 0) {
		return 0
	}
	share := part.Share() / c.Standard
	return min(1, float64(share*share))
}
