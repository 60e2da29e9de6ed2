package app

import (
	"fmt"
	"strings"

	"steadyrail/capture/table"
)

// longestNote bounds what is kept of the lines before the header, in bytes: a
// note may have 20,000.
const longestNote = 8000

// note says where the values came from and how the file was understood.
func (im Import) note(c Imported) string {
	l := im.Layout
	var b strings.Builder
	fmt.Fprintf(&b, "Imported on %s from the file %s, %d bytes, SHA-256 %s. This bench measured none of it, and no rule judged it; the record is dated by the file.",
		table.Stamp(im.Now, l.Clock.Zone), c.File, c.Bytes, c.SHA256)
	fmt.Fprintf(&b, " %s, %s: %s, %s.", counted(c.Rows, "row", "rows"), counted(c.Values, "value", "values"), l.Dialect(), l.Clock.Say(l))
	if c.Shifted > 0 {
		fmt.Fprintf(&b, " %s in the record some microseconds after the row's own time, which is kept beside it.", counted(c.Shifted, "value stands", "values stand"))
	}
	if c.Empty > 0 {
		fmt.Fprintf(&b, " %s empty.", counted(c.Empty, "cell was", "cells were"))
	}
	if l.Declared > 0 && l.Declared != c.Rows {
		fmt.Fprintf(&b, " The file says that it has %d rows.", l.Declared)
	}
	for _, i := range l.Taken() {
		col := l.Columns[i]
		fmt.Fprintf(&b, "\ncolumn %d, %s, is %s", i+1, col.Name, col.Channel)
		if col.Unit != "" {
			b.WriteString(" in " + col.Unit)
		}
	}
	for _, p := range l.Preamble {
		line := p.Value
		if p.Key != "" {
			line = p.Key + ": " + p.Value
		}
		if b.Len()+len(line) > longestNote {
			b.WriteString("\n...")
			break
		}
		b.WriteString("\n" + line)
	}
	return b.String()
}
