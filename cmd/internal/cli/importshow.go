package cli

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"steadyrail/capture/table"
)

// showLayout says how a file is understood.
func showLayout(s streams, file string, l *table.Layout) {
	fmt.Fprintf(s.out, "%s: %s\n", file, l.Dialect())
	for _, p := range l.Preamble {
		what := "kept as text"
		if p.Used {
			what = "understood"
		}
		if p.Key != "" {
			fmt.Fprintf(s.out, "line %d, %s: %s = %s\n", p.Line, what, p.Key, p.Value)
		} else {
			fmt.Fprintf(s.out, "line %d, %s: %s\n", p.Line, what, p.Value)
		}
	}
	if l.HeaderLine > 0 {
		fmt.Fprintf(s.out, "header: line %d\n", l.HeaderLine)
	} else {
		fmt.Fprintln(s.out, "header: none")
	}
	if l.UnitLine > 0 {
		fmt.Fprintf(s.out, "units: line %d\n", l.UnitLine)
	}
	fmt.Fprintf(s.out, "time: %s\n", l.Clock.Say(l))
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for i, c := range l.Columns {
		what := "left out"
		switch {
		case c.Channel != "":
			what = fmt.Sprintf("%s, %s", c.Channel, c.Quantity)
		case i == l.Clock.Column || i == l.Clock.Second:
			what = "time"
		}
		fmt.Fprintf(w, "column %d\t%s\t%s\t%s\n", i+1, c.Name, c.Unit, what)
	}
	_ = w.Flush()
	fmt.Fprintf(s.out, "rows from line %d:\n", l.FirstLine)
	for _, r := range l.First { // as the file has them
		fmt.Fprintf(under(s.out), "  %s\n", strings.Join(r, " | "))
	}
}
