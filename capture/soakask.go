package capture

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// SoakKeys are what a [SoakQuestion] is written with, in an address, a form and
// on a command line alike.
var SoakKeys = []string{"failed_every", "cycles_failed", "confidence", "dip", "depth", "meter", "aperture", "every", "warm"}

// ParseSoakQuestion reads a question from the texts of [SoakKeys]: "24 h",
// "1/20", "95", "50 ms", "50 %". What is empty was not said.
func ParseSoakQuestion(text func(key string) string) (SoakQuestion, error) {
	q := SoakQuestion{Meter: strings.TrimSpace(text("meter"))}
	for _, part := range []struct {
		key  string
		read func(string) error
	}{
		{"failed_every", into(&q.Every, ParseLength)},
		{"cycles_failed", func(s string) (err error) { q.CyclesFailed, q.Cycles, err = parseOf(s); return err }},
		{"confidence", into(&q.Confidence, parsePercent)},
		{"dip", into(&q.Dip, ParseLength)},
		{"depth", into(&q.Depth, parsePercent)},
		{"aperture", into(&q.Aperture, ParseLength)},
		{"every", into(&q.Period, ParseLength)},
		{"warm", into(&q.Warm, ParseLength)},
	} {
		if s := strings.TrimSpace(text(part.key)); s != "" {
			if err := part.read(s); err != nil {
				return SoakQuestion{}, fmt.Errorf("%s: %w", part.key, err)
			}
		}
	}
	return q, nil
}

// into reads a text into a place with a parser.
func into[T any](to *T, parse func(string) (T, error)) func(string) error {
	return func(s string) (err error) {
		*to, err = parse(s)
		return err
	}
}

// lengthUnits are the units of a length that people write; no fortnights.
var lengthUnits = map[string]time.Duration{
	"us": time.Microsecond, "µs": time.Microsecond, "ms": time.Millisecond, "s": time.Second, "sec": time.Second,
	"m": time.Minute, "min": time.Minute, "minutes": time.Minute, "h": time.Hour, "hour": time.Hour, "hours": time.Hour,
	"d": 24 * time.Hour, "day": 24 * time.Hour, "days": 24 * time.Hour, "week": 7 * 24 * time.Hour, "weeks": 7 * 24 * time.Hour,
}

// longestLength bounds what is taken for a length of time: ten years.
const longestLength = 10 * 365 * 24 * time.Hour

// ParseLength reads a length of time above nothing: "24h", "1.5 h", "0,5 h",
// "1h30m", "50 ms", "3 days". Without a unit it is refused: 8 alone may be hours
// or minutes.
func ParseLength(s string) (time.Duration, error) {
	rest, total, any := strings.ToLower(strings.TrimSpace(s)), time.Duration(0), false
	for rest != "" {
		digits := len(rest) - len(strings.TrimLeft(rest, "0123456789.,"))
		v, err := strconv.ParseFloat(strings.Replace(rest[:digits], ",", ".", 1), 64)
		rest = strings.TrimLeft(rest[digits:], " \u00a0")
		letters := strings.IndexAny(rest+"0", "0123456789., ")
		unit, known := lengthUnits[rest[:letters]]
		if err != nil || !known || v > float64(longestLength)/float64(unit) {
			return 0, notLength(s)
		}
		total += time.Duration(math.Round(float64(v * float64(unit))))
		rest, any = strings.TrimSpace(rest[letters:]), true
	}
	if !any || total <= 0 || total > longestLength {
		return 0, notLength(s)
	}
	return total, nil
}

func notLength(s string) error {
	return fmt.Errorf("%.40q is no length of time: write 24 h, 90 min, 50 ms or 3 days", s)
}

// parsePercent reads "95", "95 %" or "99,9" as a share above 0, at most 1.
func parsePercent(s string) (float64, error) {
	digits := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil || !(v > 0) || v > 100 {
		return 0, fmt.Errorf("%.40q is no share: write a number of percent, 50 or 99.9", s)
	}
	return v / 100, nil
}

// parseOf reads "1/20" or "1 of 20".
func parseOf(s string) (failed, of int, err error) {
	a, b, cut := strings.Cut(strings.Replace(s, "of", "/", 1), "/")
	failed, err = strconv.Atoi(strings.TrimSpace(a))
	if err == nil {
		of, err = strconv.Atoi(strings.TrimSpace(b))
	}
	if !cut || err != nil || failed < 1 || of < failed || of > 1_000_000 {
		return 0, 0, fmt.Errorf("%.40q is no count of power cycles: write 1/20 for one of twenty", s)
	}
	return failed, of, nil
}
