package block

import (
	"encoding/binary"
	"math"
	"strconv"
	"strings"
)

// mostTens bounds the powers of ten of a short number: what a float64 can have,
// subnormal ones with all their digits included.
const mostTens = 400

// appendReal appends the bits of a float64: two bytes for most resolutions and
// ranges, which are short in decimal.
func appendReal(dst []byte, bits uint64) []byte {
	v := math.Float64frombits(bits)
	if v == 0 && bits == 0 {
		return append(dst, 0, 0)
	}
	if v != 0 && !math.IsInf(v, 0) && v == v {
		figures, tens, _ := strings.Cut(strconv.FormatFloat(v, 'e', -1, 64), "e")
		whole, places, _ := strings.Cut(figures, ".")
		m, _ := strconv.ParseInt(whole+places, 10, 64) // 17 figures at most
		e, _ := strconv.Atoi(tens)
		dst = binary.AppendVarint(dst, m)
		return binary.AppendVarint(dst, int64(e-len(places)))
	}
	dst = append(dst, 0, 2) // m = 0, e = 1
	return binary.LittleEndian.AppendUint64(dst, bits)
}

// readReal is the inverse of appendReal.
func readReal(data []byte) (bits uint64, rest []byte, err error) {
	m, data, err := varint(data)
	if err != nil {
		return 0, nil, err
	}
	e, data, err := varint(data)
	if err != nil {
		return 0, nil, err
	}
	switch {
	case m == 0 && e == 0:
		return 0, data, nil
	case m == 0 && e == 1:
		part, data, err := take(data, 8)
		if err != nil {
			return 0, nil, err
		}
		return binary.LittleEndian.Uint64(part), data, nil
	case m == 0 || e < -mostTens || e > mostTens:
		return 0, nil, corrupt("a number of %d times ten to the power of %d", m, e)
	}
	v, err := strconv.ParseFloat(strconv.FormatInt(m, 10)+"e"+strconv.FormatInt(e, 10), 64)
	if err != nil {
		return 0, nil, corrupt("a number of %d times ten to the power of %d", m, e)
	}
	return math.Float64bits(v), data, nil
}
