package table

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// The instants that a record can have here, as whole years.
const (
	firstYear = 1970
	lastYear  = 2200
)

// when reads the time of a row.
func (rd *reading) when(cells []string) (why string) {
	c := &rd.l.Clock
	switch c.Kind {
	case ByElapsed:
		return rd.elapsed(cells[c.Column], c.times)
	case ByIndex:
		return rd.index(cells[c.Column])
	case ByRow:
		return rd.since(float64(rd.tally.Rows-1)*c.Interval, 0)
	}
	m, ok := parseMoment(cells[c.Column])
	text := cells[c.Column]
	if c.Kind == ByDateAndTime && ok {
		date := m
		if !m.hasDate || m.hasTime {
			return quoted(text) + " is no date"
		}
		text = cells[c.Second]
		if m, ok = parseMoment(text); ok && !m.hasDate {
			m.year, m.month, m.day, m.hasDate, m.slashed = date.year, date.month, date.day, true, date.slashed
		}
	}
	if c.Kind == ByTimeOfDay && ok && !m.hasDate {
		y, mon, d := c.Start.Date()
		m.year, m.month, m.day, m.hasDate = y, int(mon), d, true
	}
	if !ok || !m.hasDate {
		return quoted(text) + " is no time that is understood"
	}
	if m.slashed && c.MonthFirst {
		m = m.swapped()
	}
	t, ok := m.time(c.Zone)
	if !ok {
		return quoted(text) + " is no day of the calendar"
	}
	return rd.at(t, m.resolution)
}

// elapsed reads a time that counts from the start, in units of so many seconds.
func (rd *reading) elapsed(text string, unit float64) (why string) {
	f, why := rd.figure(text)
	if why != "" {
		return why
	}
	v, resolution, ok := f.value(0)
	if !ok {
		return quoted(text) + " is no time"
	}
	count := resolution * unit
	if v == 0 && f.hasExp {
		count = 0 // 0.0E+00 says nothing of its digits
	}
	if interval := rd.l.Clock.Interval; interval > 0 {
		count = min(count, interval)
	}
	return rd.since(v*unit, count)
}

// index reads the number of a sample; the first one's is where the start is.
func (rd *reading) index(text string) (why string) {
	f, why := rd.figure(text)
	if why != "" {
		return why
	}
	v, _, ok := f.value(0)
	if !ok || v != math.Trunc(v) {
		return quoted(text) + " is no number of a sample"
	}
	c := &rd.l.Clock
	if rd.tally.Rows == 1 {
		rd.index0 = v
	}
	return rd.since((v-rd.index0)*c.Interval, 0)
}

// since sets the row's time, seconds after the start, known to a count.
func (rd *reading) since(seconds, count float64) (why string) {
	if math.Abs(seconds) > (lastYear-firstYear)*366*86400 {
		return fmt.Sprintf("%g s from the start lie outside the years %d to %d", seconds, firstYear, lastYear)
	}
	at := capture.InstantOf(rd.l.Clock.Start) + capture.Instant(math.Round(seconds*1e6))
	return rd.instant(at, time.Duration(min(count, 86400)*float64(time.Second)))
}

func (rd *reading) at(t time.Time, count time.Duration) (why string) {
	return rd.instant(capture.InstantOf(t), count)
}

var (
	earliest = capture.InstantOf(time.Date(firstYear, 1, 1, 0, 0, 1, 0, time.UTC))
	latest   = capture.InstantOf(time.Date(lastYear, 1, 1, 0, 0, 0, 0, time.UTC))
)

// instant sets the row's time. What is known to better than a microsecond is
// known to a microsecond.
func (rd *reading) instant(at capture.Instant, count time.Duration) (why string) {
	if at < earliest || at > latest {
		return fmt.Sprintf("its time %s lies outside the years %d to %d", Stamp(at, nil), firstYear, lastYear)
	}
	rd.row.Measured = at
	rd.row.HalfWidth = max(time.Microsecond, (count / 2).Truncate(time.Microsecond))
	return ""
}
