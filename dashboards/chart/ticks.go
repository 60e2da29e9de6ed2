package chart

import (
	"math"
	"time"

	"steadyrail/capture"
)

var steps = []time.Duration{
	100 * time.Millisecond, 200 * time.Millisecond, 500 * time.Millisecond,
	time.Second, 2 * time.Second, 5 * time.Second, 10 * time.Second, 20 * time.Second, 30 * time.Second,
	time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 20 * time.Minute, 30 * time.Minute,
	time.Hour, 2 * time.Hour, 4 * time.Hour, 8 * time.Hour, 24 * time.Hour, 48 * time.Hour, 7 * 24 * time.Hour,
}

// step returns the finest spacing that gives at most n ticks.
func step(span time.Duration, n float64) time.Duration {
	for _, s := range steps {
		if float64(span)/float64(s) <= n {
			return s
		}
	}
	return steps[len(steps)-1] * time.Duration(math.Ceil(float64(span)/float64(steps[len(steps)-1])/n))
}

type tick struct {
	at    capture.Instant
	label string
	day   bool // a date stands here
}

// ticks lays marks on whole times of the zone. The offset is asked at each
// tick, so that a change of the clocks within the span leaves hours whole.
func ticks(from, to capture.Instant, every time.Duration, zone *time.Location) []tick {
	var out []tick
	at := from.Time().In(zone)
	_, offset := at.Zone()
	local := int64(from) + int64(offset)*1e6
	unit := every.Microseconds()
	for l := (local + unit - 1) / unit * unit; len(out) < 400; l += unit {
		t := capture.Instant(l - int64(offset)*1e6)
		if _, now := t.Time().In(zone).Zone(); now != offset && every > time.Hour {
			t += capture.Instant(int64(offset-now) * 1e6)
		}
		if t > to {
			return out
		}
		if t < from {
			continue
		}
		label, day := stamp(t.Time().In(zone), every)
		out = append(out, tick{t, label, day})
	}
	return out
}

// stamp prints a time as fine as the spacing asks; a midnight prints its date.
func stamp(t time.Time, every time.Duration) (string, bool) {
	switch {
	case every < time.Second:
		return t.Format("15:04:05.0"), false
	case every < time.Minute:
		return t.Format("15:04:05"), false
	case every >= 24*time.Hour, every >= time.Minute && t.Hour() == 0 && t.Minute() == 0:
		return t.Format("2 Jan"), true
	}
	return t.Format("15:04"), false
}

// scale finds a range and whole ticks for a strip without a band: the data
// with some air, and never so fine that a steady value looks wild.
func scale(lo, hi, least float64) (from, to float64, at []float64) {
	if !(lo <= hi) {
		lo, hi = 0, least
	}
	if hi-lo < least {
		c := (hi + lo) / 2
		lo, hi = c-least/2, c+least/2
	}
	// More air above than below: the strip's name stands there.
	from, to = lo-(hi-lo)*0.15, hi+(hi-lo)*0.4
	s := whole((to - from) / 4)
	for v := math.Ceil(from/s) * s; v <= to && len(at) < 6; v += s {
		at = append(at, v)
	}
	return from, to, at
}

// whole rounds a length up to 1, 2 or 5 times a power of ten.
func whole(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if v <= m*p*(1+1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// moment prints an instant for titles and descriptions: with seconds.
func moment(t capture.Instant, zone *time.Location) string {
	return t.Time().In(zone).Format("2 January 2006 15:04:05")
}

func zoneOf(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
}
