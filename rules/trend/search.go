package trend

import (
	"math"
	"slices"
)

// search is the state of a fit between two steps.
type search struct {
	y         []float64
	model     Model
	b         []float64
	residuals []float64
	squares   float64
	r         matrix    // the triangle of the Jacobian at b
	q         []float64 // Qᵀ·residuals
	lengths   []float64 // of the Jacobian's columns
	scale     []float64 // the greatest of each so far
	damping   float64
	growth    float64
	steps     int
}

func newSearch(y, start []float64, model Model) *search {
	n := len(start)
	return &search{
		y: y, model: model, b: slices.Clone(start), residuals: make([]float64, len(y)),
		r: newMatrix(len(y), n), q: make([]float64, len(y)), scale: make([]float64, n),
		damping: 1e-3, growth: 2,
	}
}

// linearise computes residuals and triangle at b; false: not finite.
func (s *search) linearise() bool {
	slope := make([]float64, len(s.b))
	for i, y := range s.y {
		s.residuals[i] = y - s.model(i, s.b, slope)
		for j, v := range slope {
			s.r.col(j)[i] = v
		}
	}
	s.squares = dot(s.residuals, s.residuals)
	s.lengths = columnLengths(s.r)
	if !finite(s.squares) || !finite(norm(s.lengths)) {
		return false
	}
	for j, v := range s.lengths {
		s.scale[j] = max(s.scale[j], v)
	}
	copy(s.q, s.residuals)
	triangle(s.r, s.q)
	return true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// offset is the length of the residuals' part that the model could still
// explain against the part it cannot, each per degree of freedom. Residuals
// that are rounding of y count as none.
func (s *search) offset() float64 {
	n, m := len(s.b), len(s.y)
	rounding := 4e-16 * norm(s.y)
	if math.Sqrt(s.squares) <= rounding {
		return 0
	}
	explained := norm(s.q[:n]) / math.Sqrt(float64(n))
	left := max(norm(s.q[n:]), rounding) / math.Sqrt(float64(m-n))
	return explained / left
}

// step tries one damped step; false: no step can be made any more.
func (s *search) step() bool {
	s.steps++
	p, ok := s.damped()
	if !ok {
		return false
	}
	gain := s.foretold(p)
	old, oldSquares := slices.Clone(s.b), s.squares
	moved := s.move(p)
	if !moved {
		return false
	}
	squares := s.squaresAt()
	if ratio := (oldSquares - squares) / gain; ratio > 0 && finite(squares) {
		t := float64(2*ratio) - 1
		s.damping *= max(1.0/3, 1-float64(t*t*t))
		s.growth = 2
		if s.linearise() {
			return true
		}
	}
	copy(s.b, old)
	s.damping *= s.growth
	s.growth *= 2
	return s.linearise() && s.damping < 1e300
}

// damped solves the normal equations of the step, (JᵀJ + λD²)·p = Jᵀr, as the
// least-squares problem they come from.
func (s *search) damped() ([]float64, bool) {
	n := len(s.b)
	a, rhs, p := newMatrix(2*n, n), make([]float64, 2*n), make([]float64, n)
	copy(rhs, s.q[:n])
	for j := range n {
		copy(a.col(j), s.r.col(j)[:j+1])
		a.col(j)[n+j] = math.Sqrt(s.damping) * max(s.scale[j], 1e-300)
	}
	lengths := columnLengths(a)
	triangle(a, rhs)
	return p, solveUpper(a, rhs, lengths, p)
}

// foretold is by how much the squares would fall if the model were linear.
func (s *search) foretold(p []float64) (gain float64) {
	for i := range p {
		var jp float64
		for k := i; k < len(p); k++ {
			jp += float64(s.r.col(k)[i] * p[k])
		}
		gain += float64(jp*s.q[i])*2 - float64(jp*jp)
	}
	return max(gain, math.SmallestNonzeroFloat64)
}

// move adds p to the parameters and reports whether any changed.
func (s *search) move(p []float64) (moved bool) {
	for j, v := range p {
		next := s.b[j] + v
		moved = moved || next != s.b[j]
		s.b[j] = next
	}
	return moved
}

// squaresAt is the sum of squares at b without the Jacobian.
func (s *search) squaresAt() (sum float64) {
	slope := make([]float64, len(s.b))
	for i, y := range s.y {
		d := y - s.model(i, s.b, slope)
		sum += float64(d * d)
	}
	return sum
}

// polish takes the last steps undamped, as long as they come nearer: so near to
// the optimum sums of squares differ by less than their rounding, and offsets do
// not.
func (s *search) polish() {
	p := make([]float64, len(s.b))
	for range 8 {
		before, old := s.offset(), slices.Clone(s.b)
		if !solveUpper(s.r, s.q, s.lengths, p) || !s.move(p) {
			return
		}
		if !s.linearise() || s.offset() >= before {
			copy(s.b, old)
			s.linearise()
			return
		}
	}
}
