package table

import (
	"bufio"
	"bytes"
	"strings"
)

// kind is what a cell looks like.
type kind uint8

const (
	kindEmpty kind = iota
	kindText
	kindFigure
	kindMoment // a date, a time of day, or both
	kindWord   // says that there is no number
)

func kindOf(cell string) kind {
	if cell == "" {
		return kindEmpty
	}
	if _, ok := noNumber(cell); ok {
		return kindWord
	}
	if _, ok := parseMoment(cell); ok {
		return kindMoment
	}
	if _, ok := parseFigure(cell); ok {
		return kindFigure
	}
	return kindText
}

// separators are the ones looked for, with the words that options use.
var separators = []struct {
	sep  byte
	name string
}{{',', "comma"}, {';', "semicolon"}, {'\t', "tab"}}

// grid is the beginning of a file, split by one separator.
type grid struct {
	sep    byte
	rows   []record // neither blank nor unreadable
	width  int
	kinds  []kind // of the columns, by most of the last rows
	first  int    // the first row that is like the others
	header int    // -1: none
	units  int    // -1: none
	broken string // what ended the looking
}

// detect splits a sample by the separator that makes a table of it.
func detect(sample []byte, o *Options) (*grid, error) {
	if line, _, _ := bytes.Cut(sample, []byte("\n")); o.Separator == 0 && len(line) >= 5 && bytes.EqualFold(line[:4], []byte("sep=")) {
		o.Separator = line[4] // some spreadsheets say it in the first line
	}
	if o.Separator != 0 {
		g := newGrid(sample, o.Separator)
		if g.width == 0 {
			return nil, noTable(g)
		}
		return g, g.matchHeader()
	}
	var found []*grid
	var names []string
	for _, s := range separators {
		if g := newGrid(sample, s.sep); g.width > 1 && g.isTable() {
			found, names = append(found, g), append(names, s.name)
		}
	}
	switch {
	case len(found) > 1:
		return nil, unclear("the cells could be parted by %s: say which with --separator", strings.Join(names, " or by "))
	case len(found) == 1:
		g := found[0]
		if err := g.matchHeader(); err != nil {
			return nil, err
		}
		if g.sep == ',' && o.Decimal == 0 && g.commasMayBeDecimal() {
			return nil, unclear("a comma stands between the figures, and it could part cells or be the decimal sign: give --separator comma for the one, --separator semicolon for the other")
		}
		return g, nil
	}
	g := newGrid(sample, '\t')
	if g.width != 1 || g.kinds[0] != kindFigure {
		return nil, noTable(g)
	}
	return g, nil
}

func noTable(g *grid) error {
	if g.broken != "" {
		return unclear("no table is found: %s; if something else parts the cells, give --separator", g.broken)
	}
	return unclear("no table is found: rows of equally many cells with a number in each, parted by comma, semicolon or tab; give --separator if it is there")
}

// newGrid splits a sample and finds width and kinds by its last rows, the first
// row that is like them, and the header. Width 0 means that there is no table.
func newGrid(sample []byte, sep byte) *grid {
	g := &grid{sep: sep, header: -1, units: -1}
	s := newScanner(bufio.NewReader(bytes.NewReader(sample)), sep)
	for len(g.rows) < sampleRows {
		rec, err := s.next()
		if err != nil {
			break
		}
		if rec.bad != "" && g.broken == "" {
			g.broken = "line " + itoa(rec.line) + ": " + rec.bad
		}
		if rec.last {
			break
		}
		if rec.bad == "" && !rec.blank() {
			g.rows = append(g.rows, rec)
		}
	}
	tail := g.rows[len(g.rows)-min(len(g.rows), max(5, len(g.rows)/2)):]
	g.width = commonWidth(tail)
	if g.width > 1 && g.lastIsEmpty() {
		g.width-- // a separator behind the last cell
	}
	if g.width == 0 || g.width > MaxColumns || !g.look(tail) || !g.findFirst() {
		g.width = 0
		return g
	}
	g.findHeader()
	return g
}

// commonWidth is the number of cells that most rows with a number have.
func commonWidth(rows []record) int {
	count := map[int]int{}
	best := 0
	for _, r := range rows {
		numbers := 0
		for _, c := range r.cells {
			if k := kindOf(c); k == kindFigure || k == kindWord {
				numbers++
			}
		}
		if numbers == 0 {
			continue
		}
		w := len(r.cells)
		count[w]++
		if count[w] > count[best] || count[w] == count[best] && w > best {
			best = w
		}
	}
	return best
}

// lastIsEmpty reports whether nothing ever stands in the last column.
func (g *grid) lastIsEmpty() bool {
	for _, r := range g.rows {
		if len(r.cells) == g.width && r.cells[g.width-1] != "" {
			return false
		}
	}
	return true
}

// look finds the kind of each column, and whether there is a number in one.
func (g *grid) look(tail []record) bool {
	numbers := false
	g.kinds = make([]kind, g.width)
	for i := range g.kinds {
		var count [kindWord + 1]int
		for _, r := range tail {
			if g.wide(r) {
				count[kindOf(cell(r.cells, i))]++
			}
		}
		best := kindFigure
		for _, k := range []kind{kindMoment, kindText} {
			if count[k] > count[best] {
				best = k
			}
		}
		if count[best] == 0 && count[kindWord] == 0 {
			best = kindText // empty throughout
		}
		g.kinds[i] = best
		numbers = numbers || best == kindFigure
	}
	return numbers
}

// wide reports whether a row has the width of the table; one empty cell more,
// behind a last separator, is passed over.
func (g *grid) wide(r record) bool {
	return len(r.cells) == g.width || len(r.cells) == g.width+1 && r.cells[g.width] == ""
}

// like reports whether a row has in each column what the others have there.
func (g *grid) like(i int) bool {
	if i >= len(g.rows) || !g.wide(g.rows[i]) {
		return false
	}
	numbers := 0
	for c, want := range g.kinds {
		switch k := kindOf(g.rows[i].cells[c]); {
		case k == kindFigure && want == kindFigure, k == kindWord:
			numbers++
		case want != k && want != kindText && k != kindEmpty:
			return false
		}
	}
	return numbers > 0
}

func (g *grid) findFirst() bool {
	for i := range g.rows {
		another := i+1 == len(g.rows)
		for next := i + 1; next < i+6; next++ { // some of them may be bad
			another = another || g.like(next)
		}
		if another && g.like(i) {
			g.first = i
			return true
		}
	}
	return false
}

// findHeader looks for the names above the first row, and a row of units below
// them. Rows with numbers in between are rows that cannot be read.
func (g *grid) findHeader() {
	for i := g.first - 1; i >= 0; i-- {
		if g.names(i) {
			g.header = i
			break
		}
		if !g.numbers(i) {
			return
		}
	}
	if g.header > 0 && g.allUnits(g.header) && g.names(g.header-1) && !g.allUnits(g.header-1) && !isFact(g.rows[g.header-1]) {
		g.header, g.units = g.header-1, g.header
	}
}
