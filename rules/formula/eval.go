package formula

import "math"

// Input is what a channel read, in the base unit of its quantity.
type Input struct {
	Value      float64
	Resolution float64 // one count; 0: not known
	Standard   float64 // standard uncertainty; 0: not stated
}

// Result is what a formula came to, in its unit.
type Result struct {
	Value      float64   // finite
	Resolution float64   // the most that one count of an input moves it; 0: not known
	Standard   float64   // standard uncertainty; 0: not known
	Slopes     []float64 // along each input; nil: it hangs on none of them
}

// Eval computes the formula from an input for each of [Expr.Channels], in that
// order. Without a finite value it returns an error of type [*Error] that says
// where and why; no intermediate result may be other than finite either.
//
// The uncertainty is propagated to first order (JCGM 100:2008, 5.1.2, equation
// 10) with the inputs taken as independent; who knows that some have an error
// in common does it again by the slopes. A channel that is written twice is
// one input: in x / x nothing is left of its uncertainty. The resolution is the
// largest of the terms that one count of each input makes (common practice).
func (e *Expr) Eval(in []Input) (Result, error) {
	v, err := evaluator{e, in}.value(e.root)
	if err != nil {
		return Result{}, err
	}
	out := Result{Value: v.x + 0, Slopes: v.slopes} // no negative zero
	sum := 0.0
	for i, slope := range v.slopes {
		term := float64(slope * in[i].Standard)
		sum += float64(term * term)
		out.Resolution = max(out.Resolution, math.Abs(float64(slope*in[i].Resolution)))
	}
	out.Standard = math.Sqrt(sum)
	if !finite(out.Standard) {
		out.Standard = 0
	}
	if !finite(out.Resolution) {
		out.Resolution = 0
	}
	return out, nil
}

// sloped is a value with its slope along each input. Nil slopes are all zero.
type sloped struct {
	x      float64
	slopes []float64
}

type evaluator struct {
	expr *Expr
	in   []Input
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (e evaluator) value(p *part) (sloped, error) {
	args := make([]sloped, len(p.args))
	for i, a := range p.args {
		v, err := e.value(a)
		if err != nil {
			return sloped{}, err
		}
		args[i] = v
	}
	switch {
	case p.sort == '/' && args[1].x == 0:
		return sloped{}, problem(e.expr.text, p.offset, "division by zero")
	case p.sort == name && p.text == "sqrt" && args[0].x < 0:
		return sloped{}, problem(e.expr.text, p.offset, "the square root of a negative figure")
	}
	v := e.apply(p, args)
	if !finite(v.x) {
		return sloped{}, problem(e.expr.text, p.offset, "the figure is beyond all measure")
	}
	return v, nil
}

func (e evaluator) apply(p *part, args []sloped) sloped {
	switch p.sort {
	case number:
		return sloped{x: p.value}
	case channel:
		slopes := make([]float64, len(e.in))
		slopes[p.ref] = 1
		return sloped{e.in[p.ref].Value, slopes}
	case minus:
		return e.along(-args[0].x, args[0], -1)
	case name:
		return e.called(p.text, args)
	}
	a, b := args[0], args[1]
	switch p.sort {
	case '+':
		return e.both(a.x+b.x, a, 1, b, 1)
	case '-':
		return e.both(a.x-b.x, a, 1, b, -1)
	case '*':
		return e.both(float64(a.x*b.x), a, b.x, b, a.x)
	}
	q := a.x / b.x
	return e.both(q, a, 1/b.x, b, -q/b.x)
}

// called computes a call. Where two are equal the first is taken, and abs rises
// at zero: the slope there is one of two.
func (e evaluator) called(text string, args []sloped) sloped {
	best := args[0]
	switch text {
	case "abs":
		if best.x < 0 {
			return e.along(-best.x, best, -1)
		}
		return best
	case "sqrt":
		root := math.Sqrt(best.x)
		return e.along(root, best, 0.5/root)
	}
	for _, a := range args[1:] {
		if text == "min" && a.x < best.x || text == "max" && a.x > best.x {
			best = a
		}
	}
	return best
}

// along is a value whose slopes are those of one operand, scaled.
func (e evaluator) along(x float64, a sloped, by float64) sloped {
	return e.both(x, a, by, sloped{}, 0)
}

// both is a value whose slopes are those of two operands, scaled.
func (e evaluator) both(x float64, a sloped, byA float64, b sloped, byB float64) sloped {
	if a.slopes == nil && b.slopes == nil {
		return sloped{x: x}
	}
	slopes := make([]float64, len(e.in))
	for i := range slopes {
		if a.slopes != nil && a.slopes[i] != 0 {
			slopes[i] += float64(byA * a.slopes[i])
		}
		if b.slopes != nil && b.slopes[i] != 0 {
			slopes[i] += float64(byB * b.slopes[i])
		}
	}
	return sloped{x, slopes}
}
