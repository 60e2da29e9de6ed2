package kind

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"steadyrail/capture"
)

// upper begins a sentence.
func upper(s string) string { return capture.Capital(s) }

// lower puts a sentence inside another.
func lower(s string) string {
	if word, _, _ := strings.Cut(s, " "); s == "" || capture.Spelt(word) {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// seconds prints a span with a tenth of a second, rounded up: a bound must
// not be made smaller by printing it.
func seconds(d time.Duration) string {
	tenths := (d + 100*time.Millisecond - 1) / (100 * time.Millisecond)
	return strconv.FormatFloat(float64(tenths)/10, 'f', 1, 64)
}

// floor prints a span with a tenth of a second, rounded down: a lower bound must
// not be made larger by printing it.
func floor(d time.Duration) string { return seconds(max(0, d-99*time.Millisecond)) }

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}
