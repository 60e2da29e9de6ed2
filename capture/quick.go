package capture

import "math"

// quick reads the numbers that instruments do send: at most 15 digits, and a
// last digit between 1e-22 and 1e22. Then digits and power of ten are both exact
// in float64, one multiplication or division rounds correctly, and nothing is
// allocated. Whatever else comes is not ok, and for the way with all rules.
func quick(s string) (v, resolution float64, ok bool) {
	i, negative := 0, false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		negative = s[i] == '-'
		i++
	}
	var digits uint64
	count, point := 0, -1
	for ; i < len(s); i++ {
		switch c := s[i]; {
		case isDigit(c):
			digits = 10*digits + uint64(c-'0')
			count++
			continue
		case c == '.' && point < 0:
			point = count
			continue
		}
		break
	}
	if count == 0 || count > 15 {
		return 0, 0, false
	}
	power, ok := quickPower(s[i:])
	if point >= 0 {
		power -= count - point
	}
	if !ok || power < -22 || power > 22 {
		return 0, 0, false
	}
	// Exact from 1e0 to 1e22; below, one over that, rounded once.
	v, resolution = float64(digits), math.Pow10(power)
	if power < 0 {
		v /= math.Pow10(-power)
	} else {
		v *= resolution
	}
	if negative {
		v = -v
	}
	return v + 0, resolution, v > -1e30 && v < 1e30 // no negative zero; far from the numbers that stand for none
}

// quickPower reads an exponent of at most two digits that is all there is, or
// nothing.
func quickPower(s string) (power int, ok bool) {
	if s == "" {
		return 0, true
	}
	if s[0] != 'e' && s[0] != 'E' {
		return 0, false
	}
	i, negative := 1, false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		negative = s[i] == '-'
		i++
	}
	if n := len(s) - i; n < 1 || n > 2 {
		return 0, false
	}
	for ; i < len(s); i++ {
		if !isDigit(s[i]) {
			return 0, false
		}
		power = 10*power + int(s[i]-'0')
	}
	if negative {
		power = -power
	}
	return power, true
}
