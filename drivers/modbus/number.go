package modbus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// Scale is what one count is worth in the base unit: Coefficient times ten to
// the Exponent, exactly. The zero value is one.
type Scale struct {
	Coefficient int64 // 0 counts as 1
	Exponent    int
}

// mostDigits bounds a scale; a register map has no finer ones.
const mostDigits = 9

var errScale = errors.New("want a decimal number above nothing of at most 9 digits, such as 0.01, or a power such as 1e-3")

// ParseScale reads a decimal number: "0.01", "1e-3", "0.25", "10".
func ParseScale(s string) (Scale, error) {
	mantissa, exponent, scientific := strings.Cut(strings.ToLower(s), "e")
	power := 0
	if scientific {
		var err error
		if power, err = strconv.Atoi(exponent); err != nil || power < -18 || power > 18 {
			return Scale{}, fmt.Errorf("scale %q: %w", s, errScale)
		}
	}
	whole, part, _ := strings.Cut(mantissa, ".")
	digits := strings.TrimLeft(whole+part, "0")
	if len(digits) > mostDigits || len(part) > 18 || strings.Trim(whole+part, "0123456789") != "" {
		return Scale{}, fmt.Errorf("scale %q: %w", s, errScale)
	}
	n, err := strconv.ParseInt(digits, 10, 64)
	if err != nil || n == 0 {
		return Scale{}, fmt.Errorf("scale %q: %w", s, errScale)
	}
	return Scale{Coefficient: n, Exponent: power - len(part)}.normal(), nil
}

// normal has no zeros at the end of the coefficient.
func (s Scale) normal() Scale {
	if s.Coefficient == 0 {
		return Scale{Coefficient: 1}
	}
	for s.Coefficient%10 == 0 {
		s.Coefficient /= 10
		s.Exponent++
	}
	return s
}

// Step is the scale as a number: one count in the base unit.
func (s Scale) Step() float64 {
	v, _ := strconv.ParseFloat(s.times(big.NewInt(1)), 64)
	return v
}

// times multiplies exactly and writes the decimal.
func (s Scale) times(n *big.Int) string {
	s = s.normal()
	return decimal(new(big.Int).Mul(n, big.NewInt(s.Coefficient)), s.Exponent)
}

func (s Scale) rat() *big.Rat {
	s = s.normal()
	r, _ := new(big.Rat).SetString(fmt.Sprintf("%de%d", s.Coefficient, s.Exponent))
	return r
}

// decimal writes n times ten to the power, with every digit of n.
func decimal(n *big.Int, power int) string {
	digits := new(big.Int).Abs(n).String()
	sign := ""
	if n.Sign() < 0 {
		sign = "-"
	}
	if power >= 0 {
		if digits != "0" {
			digits += strings.Repeat("0", power)
		}
		return sign + digits
	}
	if missing := -power - len(digits) + 1; missing > 0 {
		digits = strings.Repeat("0", missing) + digits
	}
	point := len(digits) + power
	return sign + digits[:point] + "." + digits[point:]
}

// Format is how a number lies in registers. The zero value is one unsigned
// register.
type Format struct {
	Words        int  // 1, 2 or 4; 0 counts as 1
	Signed       bool // two's complement
	Float        bool // two registers, IEEE 754
	LowWordFirst bool
	LowByteFirst bool
	Scale        Scale
}

func (f Format) words() int { return max(f.Words, 1) }

// Check refuses what cannot be a number.
func (f Format) Check() error {
	switch {
	case f.words() != 1 && f.words() != 2 && f.words() != 4:
		return fmt.Errorf("words %d: want 1, 2 or 4", f.Words)
	case f.Float && f.words() != 2:
		return errors.New("float32 lies in 2 words")
	case f.Float && f.Signed:
		return errors.New("float32 has a sign of its own: leave signed out")
	case f.words() == 1 && f.LowWordFirst:
		return errors.New("word_order means nothing with one word")
	}
	return nil
}

// raw puts the registers together.
func (f Format) raw(data []byte) uint64 {
	var v uint64
	for i := range f.words() {
		at := i
		if f.LowWordFirst {
			at = f.words() - 1 - i
		}
		w := binary.BigEndian.Uint16(data[2*at:])
		if f.LowByteFirst {
			w = w<<8 | w>>8
		}
		v = v<<16 | uint64(w)
	}
	return v
}

// lay is the inverse of raw.
func (f Format) lay(v uint64) []byte {
	out := make([]byte, 2*f.words())
	for i := range f.words() {
		at := i
		if !f.LowWordFirst {
			at = f.words() - 1 - i
		}
		w := uint16(v >> (16 * i))
		if f.LowByteFirst {
			w = w<<8 | w>>8
		}
		binary.BigEndian.PutUint16(out[2*at:], w)
	}
	return out
}

// text returns the exact decimal of what lies in the registers, or the flags of
// what is no number.
func (f Format) text(raw uint64) (string, capture.Flags) {
	if f.Float {
		return f.floatText(math.Float32frombits(uint32(raw)))
	}
	n := new(big.Int).SetUint64(raw)
	if bits := 16 * f.words(); f.Signed && raw>>(bits-1) == 1 {
		n.Sub(n, new(big.Int).Lsh(big.NewInt(1), uint(bits)))
	}
	return f.Scale.times(n), 0
}

// floatText writes the shortest decimal that is this number and no other.
func (f Format) floatText(v float32) (string, capture.Flags) {
	switch w := float64(v); {
	case math.IsNaN(w):
		return "", capture.NotANumber
	case math.IsInf(w, 1):
		return "", capture.OverRange
	case math.IsInf(w, -1):
		return "", capture.UnderRange
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(float64(v), 'e', -1, 32), "e")
	power, _ := strconv.Atoi(exponent)
	whole, part, _ := strings.Cut(mantissa, ".")
	n, _ := new(big.Int).SetString(whole+part, 10)
	s := f.Scale.normal()
	return decimal(n.Mul(n, big.NewInt(s.Coefficient)), power-len(part)+s.Exponent), 0
}

// encode finds the count nearest to a decimal in the base unit and lays it into
// registers.
func (f Format) encode(number string) ([]byte, error) {
	want, ok := new(big.Rat).SetString(number)
	if !ok {
		return nil, fmt.Errorf("%q is no number", number)
	}
	want.Quo(want, f.Scale.rat())
	if f.Float {
		v, _ := want.Float32()
		if math.IsInf(float64(v), 0) {
			return nil, fmt.Errorf("%s is more than float32 holds", number)
		}
		return f.lay(uint64(math.Float32bits(v))), nil
	}
	n := nearest(want)
	bits := uint(16 * f.words())
	low, high := new(big.Int), new(big.Int).Lsh(big.NewInt(1), bits)
	if f.Signed {
		high.Rsh(high, 1)
		low.Neg(high)
	}
	if n.Cmp(low) < 0 || n.Cmp(high) >= 0 {
		return nil, fmt.Errorf("%s is more than %d bits hold at this scale", number, bits)
	}
	if n.Sign() < 0 {
		n.Add(n, new(big.Int).Lsh(big.NewInt(1), bits))
	}
	return f.lay(n.Uint64()), nil
}

// nearest rounds half away from zero.
func nearest(r *big.Rat) *big.Int {
	twice := new(big.Int).Lsh(r.Num(), 1)
	if r.Sign() < 0 {
		twice.Sub(twice, r.Denom())
	} else {
		twice.Add(twice, r.Denom())
	}
	return twice.Quo(twice, new(big.Int).Lsh(r.Denom(), 1))
}
