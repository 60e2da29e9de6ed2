package table

import "strings"

// isTable reports whether a separator makes a table of the sample: most rows
// have one width, and no cell still holds another separator.
func (g *grid) isTable() bool {
	wide := 0
	rest := g.rows[g.first:]
	for _, r := range rest {
		if g.wide(r) {
			wide++
		}
	}
	if 2*wide < len(rest) {
		return false
	}
	for c, k := range g.kinds {
		if k != kindText {
			continue
		}
		parted := 0
		for _, r := range rest {
			if t := cell(r.cells, c); kindOf(t) == kindText && strings.ContainsAny(strings.ReplaceAll(t, string(g.sep), ""), ",;\t") {
				parted++
			}
		}
		if 2*parted > len(rest) {
			return false
		}
	}
	return true
}

// commasMayBeDecimal reports whether nothing says that a comma parts cells: no
// header of the same width, no other decimal sign, nothing in quotes.
func (g *grid) commasMayBeDecimal() bool {
	if g.header >= 0 {
		return false
	}
	for _, r := range g.rows[g.first:] {
		for _, c := range r.cells {
			if f, ok := parseFigure(c); ok && (f.mark != 0 || f.sign != "" && c != r.cells[0]) {
				return false
			}
		}
	}
	return true
}

// matchHeader refuses a file whose names are fewer or more than its cells: the
// decimal sign is then most likely the separator too.
func (g *grid) matchHeader() error {
	if g.header >= 0 || g.first == 0 {
		return nil
	}
	above := g.rows[g.first-1]
	words := 0
	for _, c := range above.cells {
		if kindOf(c) == kindText {
			words++
		}
	}
	if g.sep == ',' && words == len(above.cells) && words > 1 && words < g.width {
		return unclear("line %d names %d columns, but the rows have %d cells: if the comma is the decimal sign too, let the file be written with semicolons or tabs between cells; if something else parts them, give --separator", above.line, words, g.width)
	}
	return nil
}

// firstLine is the line behind the header and the units.
func (g *grid) firstLine() int {
	if above := max(g.header, g.units); above >= 0 {
		return g.rows[above].line + 1
	}
	return g.rows[g.first].line
}

// decimal finds the decimal sign by the rows of the sample; 0 when no number
// has one.
func (g *grid) decimal(given byte) (byte, error) {
	if given != 0 {
		return given, nil
	}
	var certain, perhaps [256]string // by sign, an example
	for _, r := range g.rows[g.first:] {
		for i, c := range r.cells {
			if i >= g.width || g.kinds[i] != kindFigure || kindOf(c) != kindFigure {
				continue
			}
			switch f, _ := parseFigure(c); {
			case f.mark == 0, f.grouped:
			case f.couldBeThousands():
				perhaps[f.mark] = c
			default:
				certain[f.mark] = c
			}
		}
	}
	point, comma := certain['.'], certain[',']
	switch {
	case point != "" && comma != "":
		return 0, unclear("%s has a point, %s a comma for the decimal sign: say which it is with --decimal; the others are then told as rows that cannot be taken", quoted(point), quoted(comma))
	case point != "", g.sep == ',' && perhaps['.'] != "" && comma == "" && perhaps[','] == "":
		return '.', nil // where commas part the cells, nobody parts thousands by points
	case comma != "":
		return ',', nil
	case perhaps['.'] != "" || perhaps[','] != "":
		text := perhaps['.'] + perhaps[',']
		if perhaps['.'] != "" && perhaps[','] != "" {
			text = perhaps[',']
		}
		return 0, unclear("all numbers look like %s, where tenths or thousands could be meant: give --decimal point or --decimal comma", quoted(text))
	}
	return 0, nil
}

// names reports whether a row can be a header: mostly words.
func (g *grid) names(i int) bool {
	named, figures := 0, 0
	for _, c := range g.rows[i].cells {
		switch kindOf(c) {
		case kindText, kindWord:
			named++
		case kindFigure, kindMoment:
			figures++
		}
	}
	return g.wide(g.rows[i]) && named > figures && 2*named >= g.width
}

// numbers reports whether a row looks like one that was to hold numbers: it
// does not begin with a word, and half of it are numbers or times.
func (g *grid) numbers(i int) bool {
	full, numbers := 0, 0
	for _, c := range g.rows[i].cells {
		switch kindOf(c) {
		case kindEmpty:
		case kindText:
			full++
		default:
			full++
			numbers++
		}
	}
	return kindOf(g.rows[i].cells[0]) != kindText && 2*numbers >= full
}

func (g *grid) allUnits(i int) bool {
	any := false
	for _, c := range g.rows[i].cells {
		if c == "" {
			continue
		}
		if _, ok := parseUnit(c); !ok {
			return false
		}
		any = true
	}
	return any
}
