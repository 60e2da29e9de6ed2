package table

import (
	"math"
	"strconv"
	"strings"

	"steadyrail/capture"
)

func itoa(n int) string { return strconv.Itoa(n) }

// figure is a number as it was written. Both kinds of decimal sign are taken;
// which one it is, is decided by the whole file.
type figure struct {
	sign     string // "" or "-"
	whole    string // digits before the sign
	part     string // digits behind it
	mark     byte   // '.', ',' or 0 when there is none
	exponent int
	hasExp   bool
	grouped  bool // marks between thousands
}

// parseFigure reads a whole cell as a number.
func parseFigure(cell string) (f figure, ok bool) {
	s := strings.TrimPrefix(strings.Replace(cell, capture.MinusSign, "-", 1), "+")
	if strings.HasPrefix(s, "-") && !strings.HasPrefix(cell, "+") {
		f.sign, s = "-", s[1:]
	}
	f.whole, s = digits(s)
	for s != "" && (s[0] == '.' || s[0] == ',') {
		f.grouped = f.grouped || f.mark != 0
		f.mark = s[0]
		f.whole += f.part
		f.part, s = digits(s[1:])
	}
	if f.whole+f.part == "" || len(f.whole)+len(f.part) > 40 {
		return f, false
	}
	if s != "" && (s[0] == 'e' || s[0] == 'E') {
		e, err := strconv.Atoi(strings.TrimPrefix(s[1:], "+"))
		if err != nil || e < -400 || e > 400 || strings.HasPrefix(s[1:], "+-") {
			return f, false
		}
		f.exponent, f.hasExp, s = e, true, ""
	}
	return f, s == ""
}

func digits(s string) (run, rest string) {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}

// couldBeThousands reports the form of a group of three, "1,234": what stands
// at the mark may be tenths or thousands.
func (f figure) couldBeThousands() bool {
	return f.mark != 0 && !f.hasExp && len(f.part) == 3 && len(f.whole) >= 1 && len(f.whole) <= 3 && f.whole[0] != '0'
}

// value returns the number times ten to shift, rounded once, and what one count
// of its last digit is worth. A zero is never negative.
func (f figure) value(shift int) (v, resolution float64, ok bool) {
	power := strconv.Itoa(f.exponent + shift - len(f.part))
	v, err := strconv.ParseFloat(f.sign+f.whole+f.part+"e"+power, 64)
	if err != nil || math.Abs(v) > 1e15 {
		return 0, 0, false
	}
	resolution, err = strconv.ParseFloat("1e"+power, 64)
	return v + 0, resolution, err == nil
}

// text returns the digits with a point.
func (f figure) text() string {
	s := f.sign + f.whole
	if f.mark != 0 {
		s += "." + f.part
	}
	if f.hasExp {
		s += "E" + strconv.Itoa(f.exponent)
	}
	return s
}

// words are what instruments write where there is no number, in small letters.
var words = map[string]capture.Flags{
	"ol": capture.OverRange, "o.l": capture.OverRange, "o.l.": capture.OverRange, "+ol": capture.OverRange, "over": capture.OverRange, "overload": capture.OverRange, "overflow": capture.OverRange,
	"inf": capture.OverRange, "+inf": capture.OverRange, "infinity": capture.OverRange, "-ol": capture.UnderRange, "-inf": capture.UnderRange, "-infinity": capture.UnderRange,
	"nan": capture.NotANumber, "--": capture.NotANumber, "---": capture.NotANumber, "----": capture.NotANumber,
}

// scpiLimit is where the numbers of SCPI-1999, volume 1, 7.2.1 begin that stand
// for no number: 9.9E37 over, -9.9E37 under, 9.91E37 none.
const scpiLimit = 9.89e37

// noNumber returns the flag of a cell that says there is no number.
func noNumber(cell string) (capture.Flags, bool) {
	if len(cell) > 12 {
		return 0, false
	}
	f, ok := words[strings.ToLower(cell)]
	return f, ok
}

// special returns the flag of one of the special numbers.
func (f figure) special() (capture.Flags, bool) {
	if !f.hasExp || f.exponent < 30 {
		return 0, false
	}
	v, err := strconv.ParseFloat(f.text(), 64)
	switch {
	case err != nil || math.Abs(v) < scpiLimit:
		return 0, false
	case v < 0:
		return capture.UnderRange, true
	case v > 9.905e37:
		return capture.NotANumber, true
	}
	return capture.OverRange, true
}
