package table

import (
	"errors"
	"fmt"
	"strings"
)

// ErrUnclear is wrapped when a file could be read in more than one way, or when
// something is missing that only a person knows. The message names the option.
var ErrUnclear = errors.New("not clear")

func unclear(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrUnclear, fmt.Sprintf(format, args...))
}

// Problem is a row that cannot be taken.
type Problem struct {
	Line int // from 1, where the row begins
	Why  string
}

// BadRows tells every row that cannot be taken, at most 50 one by one.
type BadRows struct {
	List  []Problem
	Count int
	Ended bool // reading ended with the last one: what follows was not looked at

	misfits int    // rows of another width
	hint    string // what may be wrong with all of those; empty: nothing
}

// Error lists them, a line each.
func (e *BadRows) Error() string {
	var b strings.Builder
	b.WriteString(counted(e.Count, "row", "rows") + " cannot be taken, so nothing is")
	for _, p := range e.List {
		fmt.Fprintf(&b, "\n  line %d: %s", p.Line, p.Why)
	}
	if more := e.Count - len(e.List); more > 0 {
		fmt.Fprintf(&b, "\n  and %d more", more)
	}
	if e.Ended {
		b.WriteString("\n  what follows was not looked at")
	}
	if e.hint != "" && 2*e.misfits >= e.Count {
		b.WriteString("\n  " + e.hint)
	}
	return b.String()
}

// misfit adds a row of another width. Where those are most of the bad rows and
// nobody said what parts the cells, that may have been taken wrongly.
func (e *BadRows) misfit(line, n int, l *Layout) {
	e.add(line, "it has %s, the others have %d", counted(n, "cell", "cells"), len(l.Columns))
	e.misfits++
	if l.guessed {
		e.hint = "the cells were taken as parted by " + l.separatorName() + ": if that is wrong, say what parts them with --separator"
	}
}

func (e *BadRows) add(line int, format string, args ...any) {
	e.Count++
	if len(e.List) < mostProblems {
		e.List = append(e.List, Problem{line, fmt.Sprintf(format, args...)})
	}
}

// orNil is the error, when there is one.
func (e *BadRows) orNil() error {
	if e.Count == 0 {
		return nil
	}
	return e
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// quoted quotes a cell, cut to a length that fits a line.
func quoted(cell string) string {
	const limit = 40
	if len(cell) > limit {
		return fmt.Sprintf("%q...", cell[:limit])
	}
	return fmt.Sprintf("%q", cell)
}
