package report

import (
	"fmt"
	"strings"

	"steadyrail/capture"
)

// clock prints a time of day with seconds, "day" the date before it.
func (t teller) clock(at capture.Instant) string {
	if at.IsZero() {
		return "not known"
	}
	return at.Time().In(t.o.Zone).Format("15:04:05")
}

func (t teller) day(at capture.Instant) string {
	if at.IsZero() {
		return "not known"
	}
	return tied(at.Time().In(t.o.Zone).Format("2 January 2006"))
}

// moment prints date and time with seconds.
func (t teller) moment(at capture.Instant) string {
	if at.IsZero() {
		return "not known"
	}
	return t.day(at) + ", " + t.clock(at)
}

// short prints the day and the time as a table does.
func (t teller) short(at capture.Instant) string {
	if at.IsZero() {
		return ""
	}
	return tied(at.Time().In(t.o.Zone).Format("2 Jan 15:04:05"))
}

// fine prints a time of day with tenths, for things that last less than a
// second.
func (t teller) fine(at capture.Instant) string {
	if at.IsZero() {
		return ""
	}
	return tied(at.Time().In(t.o.Zone).Format("2 Jan 15:04:05.0"))
}

// days prints the days of a job: "11 to 12 March 2031".
func (t teller) days(from, to capture.Instant) string {
	a, b := t.day(from), t.day(to)
	if to.IsZero() || a == b {
		return a
	}
	day, rest, _ := strings.Cut(a, nbsp)
	if strings.HasSuffix(b, nbsp+rest) {
		return day + " to " + b
	}
	return a + " to " + b
}

// between prints two times, the date only where it helps.
func (t teller) between(from, to capture.Instant) string {
	if from.IsZero() || to.IsZero() {
		return t.moment(from) + " to " + t.moment(to)
	}
	if t.day(from) == t.day(to) {
		return t.moment(from) + " to " + t.clock(to)
	}
	return t.moment(from) + " to " + t.moment(to)
}

// zone names the offset of all times; two where the clocks were changed
// during the job.
func (t teller) zone() string {
	offset := func(at capture.Instant) string { return "UTC" + at.Time().In(t.o.Zone).Format("-07:00") }
	from, to := t.d.From, t.d.To
	if from.IsZero() {
		from = t.o.Written
	}
	if to.IsZero() {
		to = from
	}
	a, b := offset(from), offset(to)
	if a != b {
		return fmt.Sprintf("%s at the beginning, %s at the end: the clocks were changed in between", a, b)
	}
	return a
}
