package table

import (
	"math"
	"strings"
	"unicode/utf8"

	"steadyrail/capture"
)

// unit is what a column is counted in.
type unit struct {
	base  capture.Unit
	shift int     // power of ten to the base unit
	times float64 // seconds in it, for minutes and hours; else 0
	ac    bool
}

// unitWords are the names of units in small letters. One letter alone names a
// unit only where a unit is expected.
var unitWords = map[string]capture.Unit{
	"v": capture.Volt, "volt": capture.Volt, "volts": capture.Volt, "a": capture.Ampere, "amp": capture.Ampere, "amps": capture.Ampere, "ampere": capture.Ampere, "amperes": capture.Ampere,
	"ω": capture.Ohm, "ohm": capture.Ohm, "ohms": capture.Ohm, "hz": capture.Hertz, "hertz": capture.Hertz, "w": capture.Watt, "watt": capture.Watt, "watts": capture.Watt,
	"farad": capture.Farad, "farads": capture.Farad, "°c": capture.Celsius, "degc": capture.Celsius, "deg c": capture.Celsius, "celsius": capture.Celsius,
	"s": capture.Second, "sec": capture.Second, "secs": capture.Second, "second": capture.Second, "seconds": capture.Second,
}

var unitPrefixes = []struct {
	letter string
	power  int
}{{"milli", -3}, {"micro", -6}, {"nano", -9}, {"kilo", 3}, {"mega", 6}, {"p", -12}, {"n", -9}, {"µ", -6}, {"u", -6}, {"m", -3}, {"k", 3}, {"K", 3}, {"M", 6}, {"G", 9}}

// unitForms maps what keyboards and old character sets offer.
var unitForms = strings.NewReplacer("\u2126", "Ω", "\u03bc", "µ", "\u00ba", "°", "\u02da", "°")

// parseUnit reads a unit: "V", "mV", "Volt", "[ms]", "V DC", "VAC", "kΩ", "%".
// Fahrenheit and whatever else is not kept here is not understood.
func parseUnit(text string) (unit, bool) {
	s := strings.TrimSpace(unitForms.Replace(text))
	if n := len(s); n > 2 && (s[0] == '[' && s[n-1] == ']' || s[0] == '(' && s[n-1] == ')') {
		s = strings.TrimSpace(s[1 : n-1])
	}
	switch strings.ToLower(s) {
	case "%", "percent":
		return unit{base: capture.One, shift: -2}, true
	case "min", "minute", "minutes":
		return unit{base: capture.Second, times: 60}, true
	case "h", "hr", "hour", "hours":
		return unit{base: capture.Second, times: 3600}, true
	}
	s, ac, marked := cutCurrent(s)
	u, ok := plainUnit(s)
	u.ac = ac
	if marked && u.base != capture.Volt && u.base != capture.Ampere {
		return unit{}, false
	}
	return u, ok
}

// cutCurrent cuts the kind of current off: "V DC", "mVAC", "A rms", "V~".
func cutCurrent(s string) (rest string, ac, marked bool) {
	for _, k := range []struct {
		tail string
		ac   bool
	}{{"DC", false}, {"dc", false}, {"AC", true}, {"ac", true}, {"RMS", true}, {"rms", true}, {"~", true}} {
		if cut, ok := strings.CutSuffix(s, k.tail); ok && cut != "" {
			cut = strings.TrimRight(cut, " _")
			if inner, ac, ok := cutCurrent(cut); ok {
				return inner, ac || k.ac, true
			}
			return cut, k.ac, true
		}
	}
	return s, false, false
}

// plainUnit reads a unit with at most one prefix. Megavolts and the like are
// slips of the shift key, and are not understood.
func plainUnit(s string) (unit, bool) {
	if base, ok := baseUnit(s); ok {
		return unit{base: base}, true
	}
	for _, p := range unitPrefixes {
		rest, ok := strings.CutPrefix(s, p.letter)
		if !ok && utf8.RuneCountInString(p.letter) > 1 && len(s) > len(p.letter) && strings.EqualFold(s[:len(p.letter)], p.letter) {
			rest, ok = s[len(p.letter):], true
		}
		if !ok {
			continue
		}
		base, ok := baseUnit(rest)
		if rest == "F" {
			base, ok = capture.Farad, true
		}
		switch {
		case !ok, base == capture.Celsius, p.power > 3 && base != capture.Ohm && base != capture.Hertz, p.power > 0 && base == capture.Second:
			continue
		}
		return unit{base: base, shift: p.power}, true
	}
	return unit{}, false
}

func baseUnit(s string) (capture.Unit, bool) {
	if s == "S" { // siemens
		return 0, false
	}
	base, ok := unitWords[strings.ToLower(s)]
	return base, ok
}

// quantity is what a unit most likely measures.
func (u unit) quantity() capture.Quantity {
	switch {
	case u.base == capture.Volt && u.ac:
		return capture.ACVoltage
	case u.base == capture.Ampere && u.ac:
		return capture.ACCurrent
	}
	for _, q := range []capture.Quantity{capture.DCVoltage, capture.DCCurrent, capture.Resistance, capture.Capacitance, capture.Frequency, capture.Temperature, capture.Power} {
		if q.Unit() == u.base && u.base != capture.One {
			return q
		}
	}
	if u.base == capture.One && u.shift != 0 {
		return capture.Ratio
	}
	return capture.NoQuantity
}

// seconds is how long one of a unit of time is.
func (u unit) seconds() float64 {
	if u.times != 0 {
		return u.times
	}
	return math.Pow10(u.shift)
}

// splitName parts the name of a column from the unit in it: "CH1 (V)",
// "Level [mV]", "U/V", "Volt". Only what is a unit is cut off.
func splitName(header string) (name, unitText string) {
	open := strings.LastIndexAny(header, "[(")
	if n := len(header); open >= 0 && n > open+2 && strings.ContainsAny(header[n-1:], ")]") {
		return strings.TrimRight(header[:open], " _\r\n"), strings.TrimSpace(header[open+1 : n-1])
	}
	if i := strings.LastIndexByte(header, '/'); i > 0 {
		if _, ok := parseUnit(header[i+1:]); ok {
			return strings.TrimSpace(header[:i]), strings.TrimSpace(header[i+1:])
		}
	}
	if _, ok := parseUnit(header); ok && utf8.RuneCountInString(header) > 2 {
		return header, header
	}
	return header, ""
}
