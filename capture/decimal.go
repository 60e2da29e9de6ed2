package capture

import (
	"math/big"
	"strconv"
	"strings"
)

// decimal is a number as it was written. Keeping the digits lets a prefix or a
// multiplier shift the point without a rounding, and tells what one count of
// the last digit is worth.
type decimal struct {
	negative bool
	digits   string // all digits, no mark
	power    int    // power of ten of the last digit
}

// mostDigits bounds what is read as a number; no instrument of a bench sends more.
const mostDigits = 40

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// scanDecimal reads a sign, digits with at most one mark, and an exponent, all
// in ASCII, from the start of s. It returns what follows. Nothing else that
// strconv would take (hexadecimal, underscores, words) is a number here.
func scanDecimal(s string, mark byte) (d decimal, rest string, ok bool) {
	if s != "" && (s[0] == '+' || s[0] == '-') {
		d.negative = s[0] == '-'
		s = s[1:]
	}
	whole, s := cutDigits(s)
	var part string
	if s != "" && s[0] == mark {
		part, s = cutDigits(s[1:])
	}
	d.digits = whole + part
	if d.digits == "" || len(d.digits) > mostDigits {
		return decimal{}, s, false
	}
	power, s, ok := cutExponent(s)
	d.power = power - len(part)
	return d, s, ok
}

func cutDigits(s string) (digits, rest string) {
	i := 0
	for i < len(s) && isDigit(s[i]) {
		i++
	}
	return s[:i], s[i:]
}

// cutExponent reads "e-3" or "E+03". A letter e that no digits follow belongs
// to what comes after the number.
func cutExponent(s string) (power int, rest string, ok bool) {
	if s == "" || s[0] != 'e' && s[0] != 'E' {
		return 0, s, true
	}
	t, sign := s[1:], 1
	if t != "" && (t[0] == '+' || t[0] == '-') {
		if t[0] == '-' {
			sign = -1
		}
		t = t[1:]
	}
	digits, rest := cutDigits(t)
	if digits == "" {
		return 0, s, true
	}
	digits = strings.TrimLeft(digits, "0")
	if len(digits) > 3 {
		return 0, rest, false
	}
	power, _ = strconv.Atoi("0" + digits)
	return sign * power, rest, true
}

// scaled returns the value times ten to shift, correctly rounded once, and the
// worth of one count of the last digit. It fails when either leaves float64.
func (d decimal) scaled(shift int) (v, resolution float64, ok bool) {
	power := strconv.Itoa(d.power + shift)
	sign := ""
	if d.negative {
		sign = "-"
	}
	v, err := strconv.ParseFloat(sign+d.digits+"e"+power, 64)
	if err != nil {
		return 0, 0, false
	}
	resolution, err = strconv.ParseFloat("1e"+power, 64)
	if err != nil || resolution == 0 || v == 0 && strings.Trim(d.digits, "0") != "" {
		return 0, 0, false
	}
	return v + 0, resolution, true // no negative zero
}

// rat returns the exact value times ten to shift.
func (d decimal) rat(shift int) *big.Rat {
	r, _ := new(big.Rat).SetString(d.digits + "e" + strconv.Itoa(d.power+shift))
	if d.negative {
		r.Neg(r)
	}
	return r
}
