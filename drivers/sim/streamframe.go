package sim

import (
	"fmt"
	"math"
	"strings"
)

// line is the text that a handheld of the form lines sends: five figures.
func (d display) line() []byte {
	kind, unit, v, decimals := d.parts(5)
	text := fmt.Sprintf("%0*.*f", 6, decimals, math.Abs(v))
	sign := "+"
	if v < 0 {
		sign = "-"
	}
	if d.over {
		sign, text = " ", "  OL  "
	}
	words := "AUTO"
	if d.hold {
		words += " HOLD"
	}
	if d.low {
		words += " BATT"
	}
	return []byte(fmt.Sprintf("%-2s %s%s %-5s%s\r\n", kind, sign, text, unit, words))
}

// parts says how the display shows its value with so many figures: AC, DC or
// nothing, the unit with its prefix, the value in that unit and its decimals.
func (d display) parts(figures int) (kind, unit string, v float64, decimals int) {
	unit, v = "V", d.value
	switch d.function {
	case DialVolts:
		kind = "DC"
	case DialAltVolts:
		kind = "AC"
	case DialOhms:
		unit = "ohm"
	}
	top := d.top
	for _, p := range []struct {
		letter   string
		from, by float64
	}{{"M", 6e6, 1e6}, {"k", 6e3, 1e3}, {"m", 0, 1e-3}} {
		if d.top >= p.from && (p.letter != "m" || d.top < 1) {
			unit, v, top = p.letter+unit, v/p.by, top/p.by
			break
		}
	}
	whole := len(fmt.Sprintf("%.0f", top)) // 6, 60 or 600
	return kind, unit, v, figures - whole
}

// glyphs are the figures as a display of seven segments shows them.
const glyphs = `
 _       _   _       _   _   _   _   _
| |   |  _|  _| |_| |_  |_    | |_| |_| |
|_|   | |_   _|   |  _| |_|   | |_|  _| |_
0   1   2   3   4   5   6   7   8   9   L`

// drawn tells which segments a figure has, as seven marks: over the top, the
// upper left, the middle, the upper right, the lower left, the bottom, the lower
// right.
func drawn(figure byte) (on [7]bool) {
	rows := strings.Split(glyphs, "\n")[1:]
	column := strings.IndexByte(rows[3], figure)
	if column < 0 || figure == ' ' {
		return on // blank
	}
	at := func(row, i int) bool {
		i += column
		return i < len(rows[row]) && rows[row][i] != ' '
	}
	return [7]bool{at(0, 1), at(1, 0), at(1, 1), at(1, 2), at(2, 0), at(2, 1), at(2, 2)}
}

// wires say for each mark of drawn in which of a figure's two bytes it travels,
// and as which bit.
var wires = [7]struct {
	byte int
	bit  uint
}{{0, 0}, {0, 1}, {1, 1}, {1, 0}, {0, 2}, {1, 3}, {1, 2}}

// signs are what can be lit beside the figures: byte from 1 on, and bit.
var signs = map[string]struct{ byte, bit int }{
	"AC": {1, 3}, "DC": {1, 2}, "AUTO": {1, 1}, "sending": {1, 0}, "-": {2, 3},
	"k": {10, 1}, "m": {11, 3}, "M": {11, 1}, "ohm": {12, 2}, "hold": {12, 0}, "V": {13, 2}, "battery": {13, 0},
}

// segments is the frame of 14 bytes that a handheld of that form sends: four
// figures.
func (d display) segments() []byte {
	kind, unit, v, decimals := d.parts(4)
	text := fmt.Sprintf("%0*.*f", 5, decimals, math.Abs(v))
	lit := []string{"AUTO", "sending"}
	if d.over {
		text = " 0L "
	} else if v < 0 {
		lit = append(lit, "-")
	}
	for name, on := range map[string]bool{"hold": d.hold, "battery": d.low, kind: kind != ""} {
		if on {
			lit = append(lit, name)
		}
	}
	if prefix, base := unit[:1], unit[1:]; base == "V" || base == "ohm" {
		lit = append(lit, prefix, base)
	} else {
		lit = append(lit, unit)
	}
	return frame14(text, lit)
}

func frame14(text string, lit []string) []byte {
	out := make([]byte, 14)
	for i := range out {
		out[i] = byte(i+1) << 4
	}
	at := 1
	for i := range len(text) {
		if text[i] == '.' {
			out[at] |= 1 << 3 // in front of the next figure
			continue
		}
		for mark, on := range drawn(text[i]) {
			if on {
				out[at+wires[mark].byte] |= 1 << wires[mark].bit
			}
		}
		at += 2
	}
	for _, name := range lit {
		out[signs[name].byte-1] |= 1 << signs[name].bit
	}
	return out
}
