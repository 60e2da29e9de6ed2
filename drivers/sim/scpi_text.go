package sim

import (
	"math"
	"strconv"
	"strings"
)

// This file reads program messages after IEEE 488.2 clause 7 and SCPI-1999
// volume 1. It is written from the standards' rules on purpose and shares
// nothing with drivers/scpi.

// unit is one program message unit: a header and its data.
type unit struct {
	header string // without the question mark
	query  bool
	args   []string
}

// splitMessage cuts a message into units at the semicolons outside quotes.
func splitMessage(line string) []unit {
	var out []unit
	for _, text := range splitOutsideQuotes(line, ';') {
		if text = strings.TrimSpace(text); text != "" {
			out = append(out, parseUnit(text))
		}
	}
	return out
}

func parseUnit(text string) unit {
	var u unit
	header, data := text, ""
	if i := strings.IndexAny(text, " \t"); i >= 0 {
		header, data = text[:i], strings.TrimSpace(text[i+1:])
	}
	u.header, u.query = strings.CutSuffix(header, "?")
	if data != "" {
		for _, a := range splitOutsideQuotes(data, ',') {
			u.args = append(u.args, strings.TrimSpace(a))
		}
	}
	return u
}

// splitOutsideQuotes cuts at sep, but not within "..." or '...'.
func splitOutsideQuotes(s string, sep byte) []string {
	var out []string
	var quote byte
	begin := 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == sep:
			out = append(out, s[begin:i])
			begin = i + 1
		}
	}
	return append(out, s[begin:])
}

// suffixPowers are the multipliers of SCPI-1999 table 7-2. Longer ones first,
// because MA (mega) begins like M (milli).
var suffixPowers = []struct {
	name  string
	times float64
}{
	{"EX", 1e18}, {"PE", 1e15}, {"MA", 1e6}, {"T", 1e12}, {"G", 1e9}, {"K", 1e3}, {"M", 1e-3},
	{"U", 1e-6}, {"N", 1e-9}, {"P", 1e-12}, {"F", 1e-15}, {"A", 1e-18},
}

// readNumber reads decimal program data with an optional suffix in the given
// unit ("V", "A", "OHM", "HZ", "S"; "" for a bare number), or a number in
// #H, #Q or #B form.
func readNumber(text, inUnit string) (float64, *scpiError) {
	if strings.HasPrefix(text, "#") {
		return readNondecimal(text)
	}
	digits, suffix := cutNumber(text)
	if digits == "" {
		return 0, errDataType
	}
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		if math.IsInf(v, 0) {
			return 0, errExponent
		}
		return 0, errNumber
	}
	times, problem := readSuffix(strings.ToUpper(strings.TrimSpace(suffix)), inUnit)
	return v * times, problem
}

// cutNumber divides "1.5E3 KOHM" into mantissa with exponent, and the rest. An
// E that no digit follows belongs to the rest.
func cutNumber(s string) (number, rest string) {
	i, digits := 0, 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for ; i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.'); i++ {
		if s[i] != '.' {
			digits++
		}
	}
	if digits == 0 {
		return "", s
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		k := j
		for k < len(s) && s[k] >= '0' && s[k] <= '9' {
			k++
		}
		if k > j {
			i = k
		}
	}
	return s[:i], s[i:]
}

// readSuffix returns the multiplier of an upper-case suffix.
func readSuffix(suffix, inUnit string) (float64, *scpiError) {
	if suffix == "" || suffix == inUnit {
		return 1, nil
	}
	prefix, ok := strings.CutSuffix(suffix, inUnit)
	if !ok {
		return 0, errSuffix
	}
	// MOHM and MHZ are mega by name: nobody means a milliohm range.
	if prefix == "M" && (inUnit == "OHM" || inUnit == "HZ") {
		return 1e6, nil
	}
	for _, p := range suffixPowers {
		if p.name == prefix {
			return p.times, nil
		}
	}
	return 0, errSuffix
}

func readNondecimal(text string) (float64, *scpiError) {
	if len(text) < 3 {
		return 0, errNumber
	}
	base := map[byte]int{'H': 16, 'Q': 8, 'B': 2}[text[1]&^0x20]
	if base == 0 {
		return 0, errNumber
	}
	v, err := strconv.ParseUint(text[2:], base, 32)
	if err != nil {
		return 0, errNumber
	}
	return float64(v), nil
}

// readBool reads ON, OFF or a number that rounds to zero or not.
func readBool(text string) (bool, *scpiError) {
	switch strings.ToUpper(text) {
	case "ON":
		return true, nil
	case "OFF":
		return false, nil
	}
	v, err := readNumber(text, "")
	if err != nil {
		return false, errIllegalParameter
	}
	return math.Round(v) != 0, nil
}

// readString reads quoted text.
func readString(text string) (string, *scpiError) {
	if len(text) < 2 || text[0] != '"' && text[0] != '\'' || text[len(text)-1] != text[0] {
		return "", errDataType
	}
	q := text[:1]
	return strings.ReplaceAll(text[1:len(text)-1], q+q, q), nil
}
