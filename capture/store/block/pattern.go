package block

import (
	"math"
	"strconv"
	"strings"
)

// The ways to write the sign.
const (
	signPlain  = iota // "-" or nothing
	signPlus          // "-" or "+"
	signMinus         // always "-", and the digits count downwards: "-0.000"
	signBeyond        // the first number that is no way
)

const (
	mostDigits = 18 // they fit into an int64
	mostSuffix = 6  // "e-1234"
)

// pattern makes a text out of an integer, its digits: a sign; the digits, with
// zeros in front until there are whole and places of them; a point before the
// last places; a suffix, which is empty or an exponent.
type pattern struct {
	sign          int
	whole, places int
	point         bool
	suffix        string
	power         int // of ten, of the last digit: it follows from the others
}

// patternOf returns the pattern and the digits of a text that is a decimal
// number of at most 18 digits.
func patternOf(text string) (p pattern, m int64, ok bool) {
	s := text
	if i := strings.IndexAny(s, "eE"); i >= 0 {
		s, p.suffix = s[:i], s[i:]
	}
	negative := false
	if s != "" && (s[0] == '+' || s[0] == '-') {
		negative = s[0] == '-'
		if !negative {
			p.sign = signPlus
		}
		s = s[1:]
	}
	whole, part, point := strings.Cut(s, ".")
	p.point, p.places = point, len(part)
	if p.whole = len(whole); p.whole > 1 && whole[0] != '0' {
		p.whole = 1
	}
	if strings.Trim(whole+part, "0") == "" && negative {
		p.sign = signMinus
	}
	if !p.settle() || len(whole)+len(part) == 0 {
		return p, 0, false
	}
	m, ok = p.digits(text)
	return p, m, ok
}

// settle reckons the power and reports whether the pattern can be.
func (p *pattern) settle() bool {
	exponent, ok := exponentOf(p.suffix)
	p.power = exponent - p.places
	return ok && p.sign < signBeyond && p.whole <= mostDigits && p.places <= mostDigits && (p.point || p.places == 0)
}

// exponentOf reads "", or e or E, a sign or none, and one to four digits.
func exponentOf(suffix string) (exponent int, ok bool) {
	if suffix == "" {
		return 0, true
	}
	if len(suffix) > mostSuffix || suffix[0] != 'e' && suffix[0] != 'E' {
		return 0, false
	}
	s, sign := suffix[1:], 1
	if s != "" && (s[0] == '+' || s[0] == '-') {
		if s[0] == '-' {
			sign = -1
		}
		s = s[1:]
	}
	if len(s) < 1 || len(s) > 4 {
		return 0, false
	}
	for i := range len(s) {
		d := s[i] - '0'
		if d > 9 {
			return 0, false
		}
		exponent = exponent*10 + int(d)
	}
	return sign * exponent, true
}

// digits returns the integer that gives the text under this pattern, if there
// is one of at most 18 digits.
func (p *pattern) digits(text string) (m int64, ok bool) {
	n := len(text) - len(p.suffix)
	if n <= 0 || text[n:] != p.suffix {
		return 0, false
	}
	s, negative := text[:n], false
	if s[0] == '-' {
		s, negative = s[1:], true
	} else if p.sign == signMinus {
		return 0, false
	} else if p.sign == signPlus {
		if s[0] != '+' {
			return 0, false
		}
		s = s[1:]
	}
	whole := len(s) - p.places
	if p.point {
		whole--
	}
	if whole < p.whole || whole+p.places > mostDigits || p.point && s[whole] != '.' {
		return 0, false
	}
	if whole > p.whole && s[0] == '0' {
		return 0, false
	}
	for i := range len(s) {
		if i == whole && p.point {
			continue
		}
		d := s[i] - '0'
		if d > 9 {
			return 0, false
		}
		m = m*10 + int64(d)
	}
	if negative {
		if m == 0 && p.sign != signMinus {
			return 0, false
		}
		m = -m
	}
	return m, true
}

// read takes over what stands in a form.
func (p *pattern) read(shape, suffix []byte) error {
	*p = pattern{sign: int(shape[0]), whole: int(shape[1]), places: int(shape[2]), point: shape[3] == 1, suffix: string(suffix)}
	if shape[3] > 1 || !p.settle() {
		return corrupt("a pattern % x with the suffix %q", shape, suffix)
	}
	return nil
}

// append appends the text of m.
func (p *pattern) append(dst []byte, m int64) []byte {
	u := uint64(m)
	switch {
	case m < 0:
		u = -u
		dst = append(dst, '-')
	case p.sign == signMinus:
		dst = append(dst, '-')
	case p.sign == signPlus:
		dst = append(dst, '+')
	}
	var buf [2*mostDigits + 2]byte
	i := len(buf)
	put := func(c byte) { i--; buf[i] = c }
	digit := func() { put('0' + byte(u%10)); u /= 10 }
	for range p.places {
		digit()
	}
	if p.point {
		put('.')
	}
	for n := 0; n < p.whole || u > 0; n++ {
		digit()
	}
	dst = append(dst, buf[i:]...)
	return append(dst, p.suffix...)
}

// exactTens are the powers of ten that a float64 holds exactly.
var exactTens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// mostExact is the least integer above which a float64 has gaps.
const mostExact = 1 << 53

// divisor returns the power of ten by which digits below mostExact are divided
// exactly rounded, if the power is one that allows it.
func (p *pattern) divisor() (over float64, exact bool) {
	if p.power > 0 || p.power <= -len(exactTens) {
		return 1, false
	}
	return exactTens[-p.power], true
}

// value returns m times ten to power, correctly rounded: out of two exact
// numbers one operation of IEEE 754 rounds once. Zero is never negative.
func (p *pattern) value(m int64) float64 {
	if m < mostExact && m > -mostExact {
		if over, exact := p.divisor(); exact {
			return float64(m) / over
		}
		if p.power > 0 && p.power < len(exactTens) {
			return float64(m) * exactTens[p.power]
		}
	}
	if m == 0 {
		return 0
	}
	// Beyond the range it returns an infinity and an error; we want the infinity.
	v, _ := strconv.ParseFloat(strconv.FormatInt(m, 10)+"e"+strconv.Itoa(p.power), 64)
	return v
}

// ordered maps the bits of a float64 to an integer in the order of the numbers.
func ordered(v float64) int64 {
	b := int64(math.Float64bits(v))
	return b ^ b>>63&math.MaxInt64
}

// unordered is the inverse of ordered.
func unordered(b int64) float64 { return math.Float64frombits(uint64(b ^ b>>63&math.MaxInt64)) }
