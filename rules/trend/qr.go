package trend

import "math"

// matrix keeps its columns one after the other.
type matrix struct {
	rows, cols int
	v          []float64
}

func newMatrix(rows, cols int) matrix {
	return matrix{rows: rows, cols: cols, v: make([]float64, rows*cols)}
}

func (m matrix) col(j int) []float64 { return m.v[j*m.rows : (j+1)*m.rows] }

// norm returns the length of v. Values whose squares would not fit a float64
// do not come from meters.
func norm(v []float64) float64 {
	var ss float64
	for _, x := range v {
		ss += float64(x * x)
	}
	return math.Sqrt(ss)
}

func dot(a, b []float64) (sum float64) {
	for i, x := range a {
		sum += float64(x * b[i])
	}
	return sum
}

// triangle turns m into the R of its QR decomposition, in place, and rhs into
// Qᵀ·rhs, by Householder reflections (Golub and Van Loan, Matrix Computations,
// 5.2). Unlike the normal equations it does not square the condition number.
func triangle(m matrix, rhs []float64) {
	for j := range min(m.cols, m.rows) {
		c := m.col(j)[j:]
		length := norm(c)
		if length == 0 {
			continue
		}
		if c[0] > 0 {
			length = -length
		}
		// The reflector is c with its head changed; its tail stays in place
		// below the diagonal, where nobody looks.
		head := c[0] - length
		scale := 1 / float64(length*head)
		c[0] = head
		for k := j + 1; k < m.cols; k++ {
			reflect(m.col(k)[j:], c, scale)
		}
		reflect(rhs[j:], c, scale)
		c[0] = length
	}
}

// reflect adds scale·(c·v) times c to v: scale is negative.
func reflect(v, c []float64, scale float64) {
	s := float64(dot(c, v) * scale)
	for i, x := range c {
		v[i] += float64(s * x)
	}
}

// solveUpper solves R·x = rhs for the triangle in the head of m; it reports
// false where R is singular to working precision: a diagonal element that the
// column it came from (of the given length) cannot be told from its neighbours.
func solveUpper(m matrix, rhs, lengths, x []float64) bool {
	for j := m.cols - 1; j >= 0; j-- {
		diagonal := m.v[j*m.rows+j]
		if !(math.Abs(diagonal) > 1e-14*lengths[j]) {
			return false
		}
		sum := rhs[j]
		for k := j + 1; k < m.cols; k++ {
			sum -= float64(m.v[k*m.rows+j] * x[k])
		}
		x[j] = sum / diagonal
	}
	return true
}

// inverseRowNorms returns, for each parameter, the root of the diagonal of
// (RᵀR)⁻¹: times the residual standard deviation it is the standard error.
func inverseRowNorms(m matrix, lengths []float64) ([]float64, bool) {
	n := m.cols
	squares, x, unit := make([]float64, n), make([]float64, n), make([]float64, n)
	for j := range n {
		clear(unit)
		unit[j] = 1
		if !solveUpper(m, unit, lengths, x) {
			return nil, false
		}
		for i := range n {
			squares[i] += float64(x[i] * x[i])
		}
	}
	for i := range squares {
		squares[i] = math.Sqrt(squares[i])
	}
	return squares, true
}

func columnLengths(m matrix) []float64 {
	out := make([]float64, m.cols)
	for j := range out {
		out[j] = norm(m.col(j))
	}
	return out
}
