package table

import (
	"fmt"
	"slices"
	"strings"
)

// SeparatorNames are the words for what parts cells.
func SeparatorNames() []string {
	var out []string
	for _, s := range separators {
		out = append(out, s.name)
	}
	return out
}

// ParseSeparator reads the word for what parts cells; empty: 0, it is found by the
// data.
func ParseSeparator(word string) (byte, error) {
	for _, s := range separators {
		if s.name == word {
			return s.sep, nil
		}
	}
	if word == "" {
		return 0, nil
	}
	return 0, unclear("cells are parted by %s, not %q", strings.Join(SeparatorNames(), ", "), word)
}

// other names a separator that stands inside the cells, where another was taken
// for the one that parts them; empty: none does.
func (g *grid) other() string {
	for _, s := range separators {
		inside := func(cell string) bool { return kindOf(cell) == kindText && strings.IndexByte(cell, s.sep) >= 0 }
		if s.sep != g.sep && slices.ContainsFunc(g.rows, func(r record) bool { return slices.ContainsFunc(r.cells, inside) }) {
			return s.name
		}
	}
	return ""
}

// guessed adds to an error what the cells were taken as parted by, where nobody
// said it and something else stands between them, too.
func (g *grid) guessed(err error) error {
	other := g.other()
	if err == nil || other == "" || strings.Contains(err.Error(), "--separator") {
		return err
	}
	return fmt.Errorf("%w; the cells were taken as parted by %s, and a %s stands in some: if that is what parts them, give --separator %s", err, (&Layout{Separator: g.sep}).separatorName(), other, other)
}
