package isolate

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"steadyrail/capture"
)

// Point is one point of a millivolt walk: where a small current flows into a
// short, the volts along its trace change as far as the short, and beyond it
// they are flat (Ohm's law: no current, no drop).
type Point struct {
	Name  string
	At    float64 // metre along the trace from where the current enters; 0 throughout: only the order is known
	Volts float64 // mean of the readings, against one fixed place
	U     float64 // volt, standard uncertainty of that mean; above zero
}

// Place is a walk's answer.
type Place struct {
	Word     Word     // Found or CannotTell
	Between  []string // the two points that the short lies between; one when it lies at or beyond the last
	At       float64  // metre along the trace; 0 where only the order is known
	Low      float64  // of the 95 % interval of At
	High     float64
	Say      string
	Distance bool // fitted by distance, not only by order
}

// Found is the word of a walk that came to a place.
const Found Word = "found"

// ErrWalk is wrapped when points are no walk.
var ErrWalk = errors.New("not a walk along a trace")

// leastPoints is what a place can be read from: two where it falls, one beyond.
const leastPoints = 3

// WalkShort fits where the drop ends. With distances it is a broken line,
// sloping up to the break and flat beyond it, by weighted least squares with
// the break profiled; the interval of the break holds every place whose
// chi-square lies within 3.84 of the least (95 % point of chi-square with one
// degree of freedom), widened when the line fits badly. When it fits so badly
// that the trace cannot be of one width, or without distances, the order alone
// is judged: a stretch carries the current when its drop exceeds 1.645 times
// its own standard uncertainty. The error wraps [ErrWalk].
func WalkShort(points []Point) (Place, error) {
	if err := checkWalk(points); err != nil {
		return Place{}, err
	}
	if points[len(points)-1].At == 0 {
		return byOrder(points, ""), nil
	}
	f := fit(points)
	if over := f.least > chiSquare95(len(points)-leastPoints) && len(points) > leastPoints; over {
		return byOrder(points, "The drop does not grow evenly, so the trace is not of one width, and only the order counts. "), nil
	}
	return f.place(points), nil
}

func checkWalk(points []Point) error {
	if len(points) < leastPoints {
		return fmt.Errorf("%w: %d points, %d at least: two before the short and one beyond", ErrWalk, len(points), leastPoints)
	}
	for i, p := range points {
		switch {
		case !(p.U > 0) || math.IsInf(p.U, 0) || math.IsNaN(p.Volts) || math.IsInf(p.Volts, 0) || math.IsNaN(p.At) || math.IsInf(p.At, 0):
			return fmt.Errorf("%w: %s has no usable figure", ErrWalk, p.Name)
		case i > 0 && p.At < points[i-1].At, i > 1 && points[len(points)-1].At > 0 && p.At == points[i-1].At:
			return fmt.Errorf("%w: %s is not farther along than %s", ErrWalk, p.Name, points[i-1].Name)
		}
	}
	return nil
}

// broken is a fitted broken line.
type broken struct {
	at, low, high float64 // of the break
	slope, uSlope float64 // volt per metre
	least         float64 // chi-square
}

// fitSteps is how finely the break is looked for along the trace.
const fitSteps = 2000

func fit(points []Point) broken {
	first, last := points[0].At, points[len(points)-1].At
	var chi [fitSteps + 1]float64
	best := 1
	for i := 1; i <= fitSteps; i++ { // a break at the first point is no line
		if chi[i], _, _ = sloped(points, along(first, last, i)); chi[i] < chi[best] {
			best = i
		}
	}
	f := broken{at: along(first, last, best), least: chi[best]}
	_, f.slope, f.uSlope = sloped(points, f.at)
	wide := 3.84 * max(1, f.least/float64(max(1, len(points)-leastPoints)))
	low, high := best, best
	for low > 1 && chi[low-1] <= f.least+wide {
		low--
	}
	for high < fitSteps && chi[high+1] <= f.least+wide {
		high++
	}
	f.low, f.high = along(first, last, low), along(first, last, high)
	if low == 1 {
		f.low = first
	}
	return f
}

func along(first, last float64, i int) float64 {
	return first + float64((last-first)*float64(i))/fitSteps
}

// sloped fits y = a + b·min(x, c) for one c and returns chi-square, b and the
// standard uncertainty of b (weighted linear least squares, two parameters).
func sloped(points []Point, c float64) (chi, slope, u float64) {
	var w, wx, wy float64
	for _, p := range points {
		g := 1 / float64(p.U*p.U)
		w, wx, wy = w+g, wx+float64(g*min(p.At, c)), wy+float64(g*p.Volts)
	}
	mx, my := wx/w, wy/w
	var xx, xy float64
	for _, p := range points {
		g, dx := 1/float64(p.U*p.U), min(p.At, c)-mx
		xx, xy = xx+float64(g*float64(dx*dx)), xy+float64(g*float64(dx*(p.Volts-my)))
	}
	if !(xx > 0) {
		return math.Inf(1), 0, math.Inf(1)
	}
	slope = xy / xx
	for _, p := range points {
		r := (p.Volts - my - float64(slope*(min(p.At, c)-mx))) / p.U
		chi += float64(r * r)
	}
	return chi, slope, 1 / math.Sqrt(xx)
}

// place words the fit: between which points the whole interval of the break lies.
func (f broken) place(points []Point) Place {
	first, last := points[0], points[len(points)-1]
	if math.Abs(f.slope) < detect*f.uSlope {
		return Place{Word: CannotTell, Say: fmt.Sprintf("Cannot tell: from %s to %s nothing drops that the readings' scatter would not hide. More current, or the short lies before %s.", first.Name, last.Name, first.Name)}
	}
	p := Place{Word: Found, Distance: true, At: f.at, Low: f.low, High: f.high}
	before, beyond := first, last
	for _, q := range points {
		if q.At <= f.low {
			before = q
		}
	}
	for _, q := range slices.Backward(points) {
		if q.At >= f.high {
			beyond = q
		}
	}
	where := fmt.Sprintf("%s from %s (95 %%: %s to %s)", length(f.at-first.At), first.Name, length(f.low-first.At), length(f.high-first.At))
	switch {
	case f.high >= last.At:
		p.Between = []string{before.Name, last.Name}
		if before.Name != points[len(points)-2].Name && f.low < points[len(points)-2].At {
			p.Word, p.Say = CannotTell, fmt.Sprintf("Cannot tell: the drop may end anywhere beyond %s. Read more points, or again.", before.Name)
			return p
		}
		p.Say = fmt.Sprintf("The drop still grows up to %s: the short lies at %s or beyond it, not before %s.", last.Name, last.Name, before.Name)
	case before.Name == first.Name && beyond.Name == last.Name && len(points) > leastPoints:
		p.Word, p.Say = CannotTell, fmt.Sprintf("Cannot tell: the drop ends somewhere between %s and %s. Read more points, or again.", first.Name, last.Name)
	case before.Name == first.Name: // one stretch drops, and its slope is not known
		p.Between, p.At = []string{first.Name, beyond.Name}, (f.low+f.high)/2
		p.Say = fmt.Sprintf("It drops between %s and %s only: the short lies there; where between them cannot be told.", first.Name, beyond.Name)
	default:
		p.Between = []string{before.Name, beyond.Name}
		p.Say = fmt.Sprintf("The drop ends %s: the short lies between %s and %s.", where, before.Name, beyond.Name)
	}
	return p
}

// length prints a length in millimetre.
func length(metre float64) string { return fmt.Sprintf("%.0f mm", 1000*metre) }

// byOrder finds the last stretch that drops, and asks that all before it do.
func byOrder(points []Point, why string) Place {
	tell := func(format string, args ...any) Place {
		return Place{Word: CannotTell, Say: why + "Cannot tell: " + fmt.Sprintf(format, args...)}
	}
	sign := math.Copysign(1, points[len(points)-1].Volts-points[0].Volts)
	last := -1
	for i := range points[1:] {
		if drops(points[i], points[i+1], sign) {
			last = i
		}
	}
	if last < 0 {
		return tell("nothing drops that the readings' scatter would not hide. More current, or the short lies before %s.", points[0].Name)
	}
	for i := range points[:last] {
		if !drops(points[i], points[i+1], sign) {
			return tell("nothing drops between %s and %s, but beyond it does: the current takes another way.", points[i].Name, points[i+1].Name)
		}
	}
	for i := range points[1:] {
		if drops(points[i], points[i+1], -sign) {
			return tell("the volts turn between %s and %s: something else changed, or a reading is wrong.", points[i].Name, points[i+1].Name)
		}
	}
	a, b := points[last].Name, points[last+1].Name
	p := Place{Word: Found, Between: []string{a, b}}
	if last+1 == len(points)-1 {
		p.Say = fmt.Sprintf("%sIt drops up to %s: the short lies beyond %s, at %s or farther on.", why, b, a, b)
		return p
	}
	p.Say = fmt.Sprintf("%sThe last drop is between %s and %s: the short lies there, or at %s.", why, a, b, b)
	return p
}

func drops(a, b Point, sign float64) bool {
	return float64(sign*(b.Volts-a.Volts)) > decide*norm(a.U, b.U)
}

// chiSquare95 is the 95 % point of chi-square, by Wilson and Hilferty's cube
// (Proc. Natl. Acad. Sci. 17 (1931) 684; within a few per cent from two degrees on).
func chiSquare95(degrees int) float64 {
	if degrees < 1 {
		return math.Inf(1)
	}
	k := 2 / (9 * float64(degrees))
	c := 1 - k + float64(decide*math.Sqrt(k))
	return float64(degrees) * float64(c*float64(c*c))
}

// WalkDoubt is the standard uncertainty of the mean of n readings of a walk's
// point: their scatter, the meter's last digit as a rectangle, and what warm
// contacts make (a few microvolt, common practice).
func WalkDoubt(sd, resolution float64, n int) float64 {
	return norm(sd/math.Sqrt(float64(max(1, n))), resolution/math.Sqrt(12), contactVolts)
}

const contactVolts = 3e-6

// Millivolts prints a point's volts for people.
func (p Point) Millivolts() string { return capture.Volt.Text(p.Volts, 1e-6) }
