package capture

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// ParseTyped reads what a person typed for a value in unit u: "5.02", "5,02",
// "120 mV", "4.7 kohm". The resolution is one count of the last digit typed.
// A comma or a point may be the decimal mark, but what could as well be
// thousands is refused: "1,234" unless mark is [Comma], "1.234" if it is.
// Errors wrap [ErrNotANumber] and say how to write it.
func (u Unit) ParseTyped(text string, mark DecimalMark) (v, resolution float64, err error) {
	d, suffix, err := typedDecimal(text, mark)
	if err != nil {
		return 0, 0, err
	}
	shift, err := u.typedShift(text, suffix)
	if err != nil {
		return 0, 0, err
	}
	v, resolution, ok := d.scaled(shift)
	if !ok || v > 1e15 || v < -1e15 {
		return 0, 0, refuse(text, "beyond anything a bench measures")
	}
	return v, resolution, nil
}

// typedForms maps what keyboards, word processors and meters' manuals offer
// to the characters read below.
var typedForms = strings.NewReplacer(
	"\u2212", "-", "\u2013", "-", // true minus, en dash
	"\u00a0", " ", "\u2009", " ", "\u202f", " ", // no-break and thin spaces
	"\u2126", "Ω", "\u03bc", "µ", // ohm sign, Greek mu
)

// typedDecimal reads the number in front and returns the trimmed rest.
func typedDecimal(text string, mark DecimalMark) (decimal, string, error) {
	s := strings.TrimSpace(typedForms.Replace(text))
	if s == "" {
		return decimal{}, "", refuse(text, "nothing was typed")
	}
	sep, err := typedMark(text, s, mark)
	if err != nil {
		return decimal{}, "", err
	}
	d, rest, ok := scanDecimal(s, sep)
	if !ok {
		return decimal{}, "", refuse(text, "does not begin with a figure; write one such as %s", mark.Write("5.02"))
	}
	return d, strings.TrimSpace(rest), nil
}

// typedMark decides what separates units from tenths, and refuses to guess.
func typedMark(text, s string, mark DecimalMark) (byte, error) {
	run := strings.TrimLeft(s, "+-")
	if i := strings.IndexFunc(run, func(r rune) bool { return !strings.ContainsRune("0123456789.,", r) }); i >= 0 {
		run = run[:i]
	}
	commas, points := strings.Count(run, ","), strings.Count(run, ".")
	if commas+points > 1 {
		return 0, refuse(text, "more than one comma or point; write %s without marks between thousands", mark.Write("1234.5"))
	}
	sep, foreign := byte('.'), mark == Comma
	if commas == 1 {
		sep, foreign = ',', mark == Point
	}
	if commas+points == 1 && foreign && couldBeThousands(run, sep) {
		whole, part, _ := strings.Cut(run, string(sep))
		before, after, _ := strings.Cut(s, run)
		return 0, &Ambiguous{Text: text, Fraction: before + mark.Write(whole+"."+part) + after, Thousands: before + whole + part + after}
	}
	return sep, nil
}

// Ambiguous is the refusal of a figure that could be read two ways. Both are
// there as they must be typed, sign and unit included, for asking back.
type Ambiguous struct {
	Text      string // as it was typed: "1,234 V"
	Fraction  string // "1.234 V"
	Thousands string // "1234 V"
}

// Error names both and says how to type each.
func (e *Ambiguous) Error() string {
	return fmt.Sprintf("%s: could be %s or %s; type %s for the one and %s for the other", quoteShort(e.Text),
		figureOf(e.Fraction), figureOf(e.Thousands), figureOf(e.Fraction), figureOf(e.Thousands))
}

// Unwrap returns [ErrNotANumber].
func (e *Ambiguous) Unwrap() error { return ErrNotANumber }

// figureOf cuts sign and unit off.
func figureOf(s string) string {
	s = strings.TrimLeft(s, "+- ")
	if i := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.,", r) }); i >= 0 {
		s = s[:i]
	}
	return s
}

// couldBeThousands reports the form of a group of three: "1,234", not "0,125".
func couldBeThousands(run string, sep byte) bool {
	whole, part, _ := strings.Cut(run, string(sep))
	return len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' && len(part) == 3
}

// typedWords are the names people type for a unit, compared without case.
var typedWords = [...][]string{
	One:     {""},
	Volt:    {"V", "volt", "volts"},
	Ampere:  {"A", "amp", "amps", "ampere", "amperes"},
	Ohm:     {"Ω", "ohm", "ohms", "R"},
	Farad:   {"F", "farad", "farads"},
	Hertz:   {"Hz", "hertz"},
	Celsius: {"°C", "degC", "deg C", "C", "celsius"},
	Watt:    {"W", "watt", "watts"},
	Second:  {"s", "sec", "second", "seconds"},
	Henry:   {"H", "henry", "henries"},
	Metre:   {"m", "metre", "metres"},
}

// typedPrefixes are the prefixes that make sense at a bench. Leaving out
// megavolts and millihertz catches "MV" and "mHz", which are slips.
var typedPrefixes = [...]string{
	Volt: "µmk", Ampere: "pnµm", Ohm: "µmkMG", Farad: "pnµm", Hertz: "kMG", Celsius: "", Watt: "nµmk", Second: "nµm",
	Henry: "nµm", Metre: "µm",
}

var prefixPowers = map[string]int{"p": -12, "n": -9, "µ": -6, "m": -3, "k": 3, "M": 6, "G": 9}

// typedShift returns the power of ten that a typed unit with prefix stands for.
func (u Unit) typedShift(text, suffix string) (int, error) {
	if u == One && suffix == "%" {
		return -2, nil
	}
	if suffix == "" || u.isWord(suffix) {
		return 0, nil
	}
	_, size := utf8.DecodeRuneInString(suffix)
	letter, rest := suffix[:size], strings.TrimSpace(suffix[size:])
	switch letter {
	case "u":
		letter = "µ"
	case "K":
		letter = "k"
	}
	power, isPrefix := prefixPowers[letter]
	if u == One || !isPrefix || rest != "" && !u.isWord(rest) {
		return 0, u.wrongUnit(text)
	}
	if !strings.Contains(typedPrefixes[u], letter) {
		return 0, refuse(text, "%s%s is not a unit of this bench; %s", letter, u.ASCII(), u.example())
	}
	if rest == "" && (u == Second || u == Metre || u == Ohm && (letter == "m" || letter == "M")) {
		return 0, refuse(text, "%q alone could be read two ways; write the unit too: %s%s", suffix, letter, u.ASCII())
	}
	return power, nil
}

func (u Unit) wrongUnit(text string) error {
	return refuse(text, "not a unit for this; %s", u.example())
}

// example says what a figure in this unit may look like.
func (u Unit) example() string {
	return "write " + map[Unit]string{
		One: "a plain figure", Volt: "5.02, 5.02 V or 120 mV", Ampere: "0.3, 0.3 A or 300 mA", Ohm: "4.7, 4.7 ohm or 4.7 kohm",
		Farad: "47 uF or 100 nF", Hertz: "50 Hz or 67 kHz", Celsius: "23.5 or 23.5 degC", Watt: "2.5 W or 300 mW", Second: "1.5 s or 20 ms",
		Henry: "10 uH or 1.2 mH", Metre: "0.02 m or 20 mm",
	}[u]
}

func (u Unit) isWord(s string) bool {
	for _, w := range typedWords[u] {
		if strings.EqualFold(w, s) {
			return true
		}
	}
	return false
}
