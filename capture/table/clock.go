package table

import (
	"strings"
	"time"

	"steadyrail/capture"
)

// ClockKind is what the times of a file are.
type ClockKind uint8

// The kinds.
const (
	ByMoment      ClockKind = iota // date and time in one column
	ByDateAndTime                  // in two columns
	ByTimeOfDay                    // the date is said elsewhere
	ByElapsed                      // counted from a start
	ByIndex                        // a sample's number, times the interval
	ByRow                          // the row's number, times the interval
)

// Clock is how a row's time is found.
type Clock struct {
	Kind       ClockKind
	Column     int     // from 0; -1: none
	Second     int     // the column of the time of day, beside that of the date; -1: none
	Unit       string  // that elapsed times are counted in
	Interval   float64 // seconds from sample to sample
	Start      time.Time
	MonthFirst bool
	Zone       *time.Location // of times without an offset
	Local      bool           // there are such times
	times      float64        // seconds in Unit
}

var timeNames = map[string]bool{"time": true, "t": true, "elapsed": true, "elapsed time": true, "seconds": true, "second": true, "secs": true, "sec": true, "timestamp": true, "zeit": true, "time stamp": true, "reltime": true, "relative time": true}

var indexNames = map[string]bool{"sample": true, "samples": true, "sample number": true, "index": true, "no": true, "no.": true, "nr": true, "nr.": true, "n": true, "#": true, "point": true, "row": true, "number": true}

func timeName(s string) bool  { return timeNames[strings.ToLower(s)] }
func indexName(s string) bool { return indexNames[strings.ToLower(s)] }

// findClock finds the columns of the time, or takes those that are named.
func findClock(l *Layout, g *grid, f facts, o Options) (Clock, error) {
	c := Clock{Column: -1, Second: -1, Zone: o.Zone, Interval: f.interval}
	if o.Interval != "" {
		v, ok := secondsOf(o.Interval, "", '.')
		if !ok {
			return c, unclear("%q is no interval: give a number and its unit, such as --interval '0.4 us'", o.Interval)
		}
		c.Interval = v
	}
	var err error
	if o.Time != "" {
		err = c.named(l, o.Time)
	} else {
		err = c.search(l, f)
	}
	if err == nil {
		err = c.complete(l, g, f, o)
	}
	return c, err
}

// named takes the columns that an option names.
func (c *Clock) named(l *Layout, spec string) error {
	if spec == "row" {
		c.Kind = ByRow
		return nil
	}
	i, err := l.find(spec)
	if err != nil {
		if date, day, ok := strings.Cut(spec, "+"); ok {
			if c.Column, err = l.find(date); err != nil {
				return err
			}
			if c.Second, err = l.find(day); err != nil {
				return err
			}
			c.Kind = ByDateAndTime
			return nil
		}
		cut := strings.LastIndexByte(spec, ':')
		if cut < 0 {
			return err
		}
		if i, err = l.find(spec[:cut]); err != nil {
			return err
		}
		c.Unit = spec[cut+1:]
	}
	return c.take(l, i)
}

// take makes a column that of the time.
func (c *Clock) take(l *Layout, i int) error {
	col := l.Columns[i]
	c.Column, c.Kind = i, ByElapsed
	switch {
	case col.kind == kindMoment && !l.holds(i, func(m moment) bool { return m.hasDate }):
		c.Kind = ByTimeOfDay
	case col.kind == kindMoment:
		c.Kind = ByMoment
	case col.kind == kindText:
		return unclear("column %d, %s, has no times that are understood, such as %s; ISO 8601 is: 2031-03-12T10:00:00.5+01:00", i+1, col.Name, quoted(cell(l.First[0], i)))
	case c.Unit == "" && col.Unit == "" && c.Interval > 0 && indexName(col.Name):
		c.Kind = ByIndex
	}
	return nil
}

// holds reports whether the first rows have such a moment in a column.
func (l *Layout) holds(i int, want func(moment) bool) bool {
	for _, r := range l.First {
		if m, ok := parseMoment(cell(r, i)); ok && want(m) {
			return true
		}
	}
	return false
}

// search looks for the columns of the time: full times first, then date and time
// apart, then a column with the name or the unit of a time, then the numbers of
// samples, then the rows themselves.
func (c *Clock) search(l *Layout, f facts) error {
	var full, dates, days, elapsed, index []int
	for i, col := range l.Columns {
		u, isUnit := parseUnit(col.Unit)
		switch {
		case col.kind == kindMoment && !l.holds(i, func(m moment) bool { return m.hasDate }):
			days = append(days, i)
		case col.kind == kindMoment && l.holds(i, func(m moment) bool { return m.hasTime }):
			full = append(full, i)
		case col.kind == kindMoment:
			dates = append(dates, i)
		case col.kind != kindFigure:
		case isUnit && u.base == capture.Second, timeName(col.Name):
			elapsed = append(elapsed, i)
		case indexName(col.Name) && col.Unit == "":
			index = append(index, i)
		}
	}
	switch {
	case len(full) > 1 || len(full) == 0 && (len(dates) > 1 || len(days) > 1 || len(dates)+len(days) == 0 && len(elapsed) > 1):
		return unclear("several columns have times: say which one with --time: %s", l.list())
	case len(full) == 1:
		return c.take(l, full[0])
	case len(dates) == 1 && len(days) == 1:
		c.Kind, c.Column, c.Second = ByDateAndTime, dates[0], days[0]
		return nil
	case len(dates)+len(days) == 1:
		return c.take(l, append(dates, days...)[0])
	case len(elapsed) == 1:
		if c.Unit == "" && l.Columns[elapsed[0]].Unit == "" {
			c.Unit = f.timeUnit
		}
		return c.take(l, elapsed[0])
	case c.Interval > 0 && len(index) == 1:
		return c.take(l, index[0])
	case c.Interval > 0:
		c.Kind = ByRow
		return nil
	}
	return unclear("no column has times: say which one with --time (%s), or give the time from row to row with --interval", l.list())
}

// complete looks whether everything is there that this kind of time needs.
func (c *Clock) complete(l *Layout, g *grid, f facts, o Options) error {
	start := f.start
	if o.Start != "" {
		start = o.Start
	}
	if c.Kind == ByElapsed {
		if c.Unit == "" {
			c.Unit = l.Columns[c.Column].Unit
		}
		u, ok := parseUnit(c.Unit)
		if !ok || u.base != capture.Second {
			return unclear("column %d, %s, does not say what it counts: give --time '%[2]s:s', or ms, us, min", c.Column+1, l.Columns[c.Column].Name)
		}
		c.times = u.seconds()
	}
	if (c.Kind == ByIndex || c.Kind == ByRow) && c.Interval <= 0 {
		return unclear("the time from sample to sample is not said: give it, such as --interval '0.4 us'")
	}
	if err := c.order(g, o.Dates); err != nil {
		return err
	}
	if c.Kind == ByMoment || c.Kind == ByDateAndTime {
		return nil
	}
	if start == "" {
		return unclear("the times count from a start that the file does not say: give it, such as --start 2031-03-12T10:00:00+01:00")
	}
	m, ok := parseMoment(start)
	if ok && m.slashed && o.Dates == "" && o.Start == "" && m.day != m.month {
		return unclear("the start %s could have the day or the month first: say which with --dates day-first or --dates month-first", quoted(start))
	}
	if m.slashed && o.Dates == MonthFirst {
		m = m.swapped()
	}
	c.Local = c.Local || m.offset == nil
	if c.Start, ok = m.time(c.Zone); !ok || !m.hasDate || !m.hasTime && c.Kind != ByTimeOfDay {
		return unclear("%q is no start: it needs date and time, such as --start 2031-03-12T10:00:00+01:00", start)
	}
	return nil
}

// order decides which of day and month comes first, by all rows of the sample.
func (c *Clock) order(g *grid, said DateOrder) error {
	if c.Column < 0 || g.kinds[c.Column] != kindMoment {
		return nil
	}
	slashed, day, month := "", false, false
	for _, r := range g.rows[g.first:] {
		m, ok := parseMoment(cell(r.cells, c.Column))
		c.Local = c.Local || ok && m.offset == nil
		if ok && m.slashed {
			slashed = cell(r.cells, c.Column)
			day, month = day || m.day > 12, month || m.month > 12
		}
	}
	switch {
	case slashed == "":
	case said != "":
		c.MonthFirst = said == MonthFirst
	case day == month:
		return unclear("dates such as %s could have the day or the month first: say which with --dates day-first or --dates month-first", quoted(slashed))
	default:
		c.MonthFirst = month
	}
	return nil
}
