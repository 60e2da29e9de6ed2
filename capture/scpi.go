package capture

import (
	"math"
	"strconv"
	"strings"
)

// The numbers that stand for no number in SCPI-1999, volume 1, 7.2.1.
const (
	scpiInfinity  = 9.9e37
	scpiNotNumber = 9.91e37
	// scpiTolerance lets a number that went through 32-bit arithmetic or a short
	// print still count. The two special numbers are 1e-3 apart.
	scpiTolerance = 1e-4
)

var scpiWords = map[string]Flags{
	"INF": OverRange, "+INF": OverRange, "INFINITY": OverRange, "+INFINITY": OverRange,
	"NINF": UnderRange, "-INF": UnderRange, "NINFINITY": UnderRange, "-INFINITY": UnderRange,
	"NAN": NotANumber, "+NAN": NotANumber, "-NAN": NotANumber,
}

// ParseResponse reads one number of an instrument's answer: NR1, NR2 or NR3
// after IEEE 488.2, with the liberties that instruments take (spaces around it,
// a leading or trailing point, no sign in the exponent). The resolution is one
// count of the last digit sent, which may be finer than the meter's own.
//
// 9.9E37, -9.9E37, 9.91E37 and the words INF, NINF and NAN become a flag with
// value and resolution 0 and no error. Anything else, a unit behind the number
// included, wraps [ErrNotANumber].
func ParseResponse(text string) (value, resolution float64, flags Flags, err error) {
	s := strings.Trim(text, " \t\r\n")
	if v, res, ok := quick(s); ok {
		return v, res, 0, nil
	}
	return parseResponse(text, s)
}

// parseResponse is ParseResponse for whatever [quick] does not take.
func parseResponse(text, s string) (value, resolution float64, flags Flags, err error) {
	if s == "" {
		return 0, 0, 0, refuse(text, "an empty answer where a number was due")
	}
	if f, ok := scpiWords[strings.ToUpper(s)]; ok {
		return 0, 0, f, nil
	}
	d, rest, ok := scanDecimal(s, '.')
	if !ok || rest != "" {
		return 0, 0, 0, refuse(text, "not one number after IEEE 488.2")
	}
	v, resolution, ok := d.scaled(0)
	switch {
	case !ok:
	case near(v, scpiInfinity):
		return 0, 0, OverRange, nil
	case near(v, -scpiInfinity):
		return 0, 0, UnderRange, nil
	case near(v, scpiNotNumber):
		return 0, 0, NotANumber, nil
	case math.Abs(v) < scpiInfinity:
		return v, resolution, 0, nil
	}
	return 0, 0, 0, refuse(text, "beyond the numbers of SCPI-1999 (9.9E37)")
}

func near(v, special float64) bool { return math.Abs(v-special) <= scpiTolerance*scpiInfinity }

// scpiUnits are the units of program data, longest first so that OHM is found
// before M could be taken for a multiplier.
var scpiUnits = []struct {
	suffix string
	unit   Unit
}{{"OHM", Ohm}, {"CEL", Celsius}, {"HZ", Hertz}, {"V", Volt}, {"A", Ampere}, {"F", Farad}, {"W", Watt}, {"S", Second}}

// scpiMultipliers are those of IEEE 488.2, table 7-2: MA is mega, M is milli.
var scpiMultipliers = map[string]int{
	"EX": 18, "PE": 15, "T": 12, "G": 9, "MA": 6, "K": 3, "": 0, "M": -3, "U": -6, "N": -9, "P": -12, "F": -15, "A": -18,
}

// ParseProgramNumber reads decimal numeric program data after IEEE 488.2 and
// SCPI-1999: "1.5 KOHM", "3 MA" (milliampere), "10 MHZ" (mega), "28000m", and
// "#HFF", "#Q17", "#B101". It returns the value in the base unit, [One] when no
// unit was given. A suffix that is a unit is read as that unit: A is ampere,
// not atto. Errors wrap [ErrNotANumber].
func ParseProgramNumber(text string) (float64, Unit, error) {
	s := strings.Trim(text, " \t\r\n")
	if strings.HasPrefix(s, "#") {
		v, err := parseNonDecimal(text, s[1:])
		return v, One, err
	}
	d, rest, ok := scanDecimal(s, '.')
	if !ok {
		return 0, One, refuse(text, "not decimal program data after IEEE 488.2")
	}
	shift, unit, ok := programSuffix(strings.ToUpper(strings.TrimLeft(rest, " \t")))
	if !ok {
		return 0, One, refuse(text, "the suffix is no unit or multiplier of SCPI-1999")
	}
	v, _, ok := d.scaled(shift)
	if !ok || math.Abs(v) >= scpiInfinity*(1-scpiTolerance) {
		return 0, One, refuse(text, "beyond the numbers of SCPI-1999 (9.9E37)")
	}
	return v, unit, nil
}

// programSuffix splits a suffix into multiplier and unit.
func programSuffix(s string) (shift int, unit Unit, ok bool) {
	for _, u := range scpiUnits {
		multiplier, found := strings.CutSuffix(s, u.suffix)
		if !found {
			continue
		}
		if multiplier == "M" && (u.unit == Ohm || u.unit == Hertz) {
			return 6, u.unit, true // the exception of SCPI-1999: MOHM and MHZ are mega
		}
		if shift, ok = scpiMultipliers[multiplier]; ok {
			return shift, u.unit, true
		}
	}
	shift, ok = scpiMultipliers[s]
	return shift, One, ok
}

// parseNonDecimal reads H, Q or B and its digits. Numbers that float64 cannot
// hold exactly are refused: nobody sends a bit mask to have it rounded.
func parseNonDecimal(text, s string) (float64, error) {
	base := 0
	if s != "" {
		base = map[byte]int{'H': 16, 'h': 16, 'Q': 8, 'q': 8, 'B': 2, 'b': 2}[s[0]]
	}
	if base == 0 || len(s) < 2 {
		return 0, refuse(text, "not nondecimal program data: #H, #Q or #B and digits")
	}
	n, err := strconv.ParseUint(s[1:], base, 53)
	if err != nil {
		return 0, refuse(text, "not nondecimal program data of at most 53 bits")
	}
	return float64(n), nil
}
