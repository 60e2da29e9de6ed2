package cli

import (
	"io"
	"strings"
	"unicode/utf8"
)

// columns is what a terminal holds at least, and what is taken for one where
// the real width is not known.
const columns = 80

// narrowest is the width below which nobody reads lines: wrapping then makes it
// no better.
const narrowest = 30

// wrapped breaks a line at spaces so that a terminal need not break it within a
// word. What follows the first line begins with indent.
func wrapped(line, indent string) string { return wrappedAt(line, indent, columns) }

// wrappedFor is wrapped for what w is: its width when it is a terminal.
func wrappedFor(w io.Writer, line, indent string) string {
	n := terminalColumns(w)
	if n == 0 {
		n = columns
	}
	return wrappedAt(line, indent, n)
}

// fitted wraps the lines of a text where w is a terminal. Elsewhere, in a file or
// for a script, a line stays a line.
func fitted(w io.Writer, text string) string {
	n := terminalColumns(w)
	if n == 0 {
		return text
	}
	var out []string
	for line := range strings.SplitSeq(text, "\n") {
		out = append(out, wrappedAt(line, line[:len(line)-len(strings.TrimLeft(line, " "))]+"  ", n))
	}
	return strings.Join(out, "\n")
}

func wrappedAt(line, indent string, width int) string {
	width = max(width, narrowest)
	var b strings.Builder
	for utf8.RuneCountInString(line) > width {
		at, n := -1, 0
		for i, r := range line {
			if r == ' ' && n > len(indent) {
				at = i
			}
			if n++; n > width && at >= 0 {
				break
			}
		}
		if at < 0 {
			break // one long word
		}
		b.WriteString(line[:at] + "\n")
		line = indent + strings.TrimLeft(line[at:], " ")
	}
	return b.String() + line
}

// reflowed fills the paragraphs of a text to the width of a terminal. Lines that
// begin with a space are examples and stay as they are.
func reflowed(text string) string {
	var out []string
	paragraph := ""
	flush := func() {
		if paragraph != "" {
			out = append(out, wrapped(paragraph, ""))
		}
		paragraph = ""
	}
	for line := range strings.SplitSeq(text, "\n") {
		if line == "" || line[0] == ' ' {
			flush()
			out = append(out, line)
			continue
		}
		paragraph = strings.TrimPrefix(paragraph+" "+line, " ")
	}
	flush()
	return strings.Join(out, "\n")
}
