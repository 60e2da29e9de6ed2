package diagnose

import "math"

// Shape is how a converter's output stands to its input.
type Shape string

// The shapes. Only one that steps down needs its input above its output; the
// others give their rated output from less than it, at a higher input current
// (the textbook conversion ratios of the step-down, step-up and inverting
// converter: D, 1/(1−D) and −D/(1−D)).
const (
	StepsDown Shape = "steps down"
	StepsUp   Shape = "steps up"
	Inverts   Shape = "inverts"
	Isolated  Shape = "isolated" // through a transformer, whose ratio is free
)

// Shapes lists them as a sheet may state them.
func Shapes() []Shape { return []Shape{StepsDown, StepsUp, Inverts, Isolated} }

// ShapeOf returns what the sheet states, or else what follows from the rails'
// nominal voltages: another sign inverts, a greater magnitude steps up.
func (b Board) ShapeOf(c Converter) Shape {
	in, _ := b.Rail(c.In)
	out, _ := b.Rail(c.Out)
	switch {
	case c.Shape != "":
		return c.Shape
	case float64(in.Nominal*out.Nominal) < 0:
		return Inverts
	case math.Abs(out.Nominal) > math.Abs(in.Nominal):
		return StepsUp
	}
	return StepsDown
}

// starved is what a converter makes of an input that is too low: one that needs
// headroom mostly follows it down.
func (b Board) starved(c Converter) []float64 {
	if b.ShapeOf(c) == StepsDown {
		return isStarved
	}
	return isStretched
}
