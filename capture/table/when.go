package table

import (
	"strings"
	"time"
)

// moment is what a cell says of the time: a date, a time of day, or both.
type moment struct {
	year, month, day int
	hasDate          bool
	slashed          bool // day and month may be the other way round
	sinceMidnight    time.Duration
	hasTime          bool
	offset           *int          // seconds east of UTC; nil: not said
	resolution       time.Duration // one count of the last digit
}

// parseMoment reads ISO 8601 and what is common beside it: 2031-03-12T10:00:00.5+01:00,
// 2031/03/12 10:00, 12.03.2031 (always day first), 03/12/2031 (which of day and
// month comes first is decided by the whole file), 10:00:00,25, 10:00:00 PM.
func parseMoment(cell string) (m moment, ok bool) {
	if len(cell) < 5 || len(cell) > 40 {
		return m, false
	}
	m.resolution = 24 * time.Hour
	rest, ok := m.date(cell)
	if ok && rest == "" {
		return m, true
	}
	if ok {
		if rest[0] != 'T' && rest[0] != 't' && rest[0] != ' ' {
			return m, false
		}
		rest = strings.TrimLeft(rest[1:], " ")
	}
	if rest, ok = m.clock(rest); !ok {
		return m, false
	}
	return m, m.zone(strings.TrimLeft(rest, " "))
}

// date reads a date in front; it is there when ok.
func (m *moment) date(s string) (rest string, ok bool) {
	var n [3]int
	var sep byte
	rest = s
	for i := range n {
		run, after := digits(rest)
		if run == "" || len(run) > 4 {
			return s, false
		}
		n[i] = atoi(run)
		rest = after
		if i == 2 {
			break
		}
		if rest == "" || !strings.ContainsRune("-/.", rune(rest[0])) || i > 0 && rest[0] != sep {
			return s, false
		}
		sep, rest = rest[0], rest[1:]
	}
	switch {
	case n[0] >= 1000:
		m.year, m.month, m.day = n[0], n[1], n[2]
	case n[2] < 1000:
		return s, false
	case sep == '.':
		m.year, m.month, m.day = n[2], n[1], n[0]
	default:
		m.year, m.month, m.day, m.slashed = n[2], n[1], n[0], true
	}
	m.hasDate = true
	return rest, true
}

// clock reads hours, minutes and, if there are any, seconds with their part.
func (m *moment) clock(s string) (rest string, ok bool) {
	var n [3]int
	rest, fields := s, 0
	for i := range n {
		run, after := digits(rest)
		if run == "" || len(run) > 2 {
			return s, false
		}
		n[i], rest, fields = atoi(run), after, i+1
		if rest == "" || rest[0] != ':' || i == 2 {
			break
		}
		rest = rest[1:]
	}
	if fields < 2 || n[0] > 23 || n[1] > 59 || n[2] > 60 {
		return s, false
	}
	m.hasTime, m.resolution = true, time.Minute
	m.sinceMidnight = time.Duration(n[0])*time.Hour + time.Duration(n[1])*time.Minute + time.Duration(n[2])*time.Second
	if fields == 3 {
		m.resolution = time.Second
		if rest != "" && (rest[0] == '.' || rest[0] == ',' || rest[0] == ':') {
			var part string
			if part, rest = digits(rest[1:]); part == "" {
				return s, false
			}
			m.fraction(part)
		}
	}
	return rest, m.half(&rest)
}

func (m *moment) fraction(part string) {
	unit := time.Second
	for i := 0; i < len(part) && unit > 1; i++ {
		unit /= 10
		m.sinceMidnight += time.Duration(part[i]-'0') * unit
	}
	m.resolution = max(unit, time.Nanosecond)
}

// half reads AM and PM.
func (m *moment) half(rest *string) bool {
	word := strings.ToUpper(strings.TrimSpace(*rest))
	if word != "AM" && word != "PM" {
		return true
	}
	*rest = ""
	hour := int(m.sinceMidnight / time.Hour)
	if hour < 1 || hour > 12 {
		return false
	}
	if hour == 12 {
		m.sinceMidnight -= 12 * time.Hour
	}
	if word == "PM" {
		m.sinceMidnight += 12 * time.Hour
	}
	return true
}

// zone reads the offset from UTC; nothing is an offset that is not said.
func (m *moment) zone(s string) bool {
	if s == "" {
		return true
	}
	if seconds, ok := parseOffset(s); ok {
		m.offset = &seconds
		return true
	}
	return false
}

// parseOffset reads "Z", "UTC", "+01:00", "+0100" or "-05".
func parseOffset(s string) (seconds int, ok bool) {
	if s == "Z" || s == "z" || s == "UTC" || s == "GMT" {
		return 0, true
	}
	s = strings.Replace(s, "\u2212", "-", 1)
	if s == "" || s[0] != '+' && s[0] != '-' {
		return 0, false
	}
	hm := strings.Replace(s[1:], ":", "", 1)
	run, rest := digits(hm)
	if rest != "" || len(run) != 2 && len(run) != 4 {
		return 0, false
	}
	h, min := atoi(run[:2]), atoi(run[2:])
	if h > 14 || min > 59 {
		return 0, false
	}
	seconds = h*3600 + min*60
	if s[0] == '-' {
		seconds = -seconds
	}
	return seconds, true
}

// ParseZone reads a time zone: an offset such as "+01:00", "UTC", "local", or a
// name of the time zone database of this computer.
func ParseZone(s string) (*time.Location, error) {
	if s == "" || s == "local" {
		return time.Local, nil
	}
	if seconds, ok := parseOffset(s); ok {
		return time.FixedZone(s, seconds), nil
	}
	return time.LoadLocation(s)
}

// swapped is a slashed date with the month first.
func (m moment) swapped() moment {
	m.month, m.day = m.day, m.month
	return m
}

// time returns the moment, whose date is there, and whether the calendar has it.
func (m moment) time(zone *time.Location) (time.Time, bool) {
	if m.offset != nil {
		zone = time.FixedZone("", *m.offset)
	}
	day := time.Date(m.year, time.Month(m.month), m.day, 0, 0, 0, 0, time.UTC)
	if m.month < 1 || m.month > 12 || day.Day() != m.day || m.day < 1 {
		return time.Time{}, false
	}
	s := m.sinceMidnight
	return time.Date(m.year, time.Month(m.month), m.day, int(s/time.Hour), int(s/time.Minute%60), int(s/time.Second%60), int(s%time.Second), zone), true
}

// atoi reads a short run of digits; none is 0.
func atoi(run string) int {
	n := 0
	for i := range len(run) {
		n = n*10 + int(run[i]-'0')
	}
	return n
}
