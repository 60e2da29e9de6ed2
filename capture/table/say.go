package table

import "fmt"

// Dialect says encoding, separator and decimal sign in words.
func (l *Layout) Dialect() string {
	say := string(l.Encoding) + ", "
	if len(l.Columns) == 1 {
		say += "one column"
	} else {
		say += "cells parted by " + l.separatorName()
	}
	switch l.Decimal {
	case 0:
		return say + ", no decimal sign seen"
	case ',':
		return say + ", decimal comma"
	}
	return say + ", decimal point"
}

func (l *Layout) separatorName() string {
	for _, s := range separators {
		if s.sep == l.Separator {
			return s.name
		}
	}
	return fmt.Sprintf("%q", l.Separator)
}

// Say says in words how a row's time is found.
func (c Clock) Say(l *Layout) string {
	name := func(i int) string { return fmt.Sprintf("column %d, %s", i+1, l.Columns[i].Name) }
	start := ""
	if !c.Start.IsZero() {
		start = c.Start.Format("2006-01-02T15:04:05.999999-07:00")
	}
	say := ""
	switch c.Kind {
	case ByMoment:
		say = "time from " + name(c.Column)
	case ByDateAndTime:
		say = "date from " + name(c.Column) + ", time of day from " + name(c.Second)
	case ByTimeOfDay:
		say = "time of day from " + name(c.Column) + ", on " + c.Start.Format("2006-01-02")
	case ByElapsed:
		say = "time from " + name(c.Column) + ", in " + c.Unit + " since " + start
	case ByIndex:
		say = fmt.Sprintf("time from %s, every %g s, the first at %s", name(c.Column), c.Interval, start)
	case ByRow:
		say = fmt.Sprintf("a row every %g s, the first at %s", c.Interval, start)
	}
	if c.Local {
		say += ", zone " + c.Zone.String()
	}
	if c.MonthFirst {
		say += ", the month first"
	}
	return say
}
