package formula

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Error is something wrong with the text of a formula, at a place in it.
type Error struct {
	Text   string // the formula as written
	Column int    // in characters, from 1
	Say    string // what is wrong and what to do
}

// Error says the column and what is wrong, on one line.
func (e *Error) Error() string { return fmt.Sprintf("column %d: %s", e.Column, e.Say) }

// Caret returns the formula and, on a second line, a caret under the place.
// Where a text is too long to be shown it returns nothing.
func (e *Error) Caret() string {
	if len(e.Text) > MostText || strings.ContainsFunc(e.Text, control) || !utf8.ValidString(e.Text) {
		return ""
	}
	return e.Text + "\n" + strings.Repeat(" ", e.Column-1) + "^"
}

// problem builds an Error about the byte at an offset of a text.
func problem(text string, offset int, format string, args ...any) *Error {
	return &Error{text, utf8.RuneCountInString(text[:min(offset, len(text))]) + 1, fmt.Sprintf(format, args...)}
}
