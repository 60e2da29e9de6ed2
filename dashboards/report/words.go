package report

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"steadyrail/capture"
)

const nbsp = "\u00a0"

// tied keeps a figure with its unit, and a name with itself.
func tied(s string) string { return strings.ReplaceAll(s, " ", nbsp) }

// named prints a rail's name for people.
func named(rail string) string { return tied(capture.TrueMinus(rail)) }

// fig prints a value with its unit, in no more digits than it was read with.
func fig(u capture.Unit, v, resolution float64) string { return tied(u.Text(v, resolution)) }

// spread prints an expanded uncertainty: rounded up, at most two significant
// digits, never finer than the resolution of what it belongs to.
func spread(u capture.Unit, v, resolution float64) string {
	if v <= 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	digit := math.Pow(10, math.Floor(math.Log10(v))-1)
	digit = max(digit, resolution)
	v = math.Ceil(v/digit-1e-6) * digit
	if digit >= 1e-4 {
		// The same prefix as the figure beside it: none.
		return tied(capture.Figure(v, digit) + " " + u.Symbol())
	}
	return fig(u, v, digit)
}

// edgeDigits finds the resolution that prints declared limits as they were
// declared: two decimals to four.
func edgeDigits(edges ...float64) float64 {
	for d := 2; d < 4; d++ {
		scale, ok := math.Pow(10, float64(d)), true
		for _, v := range edges {
			ok = ok && (math.IsInf(v, 0) || math.Abs(math.Round(v*scale)/scale-v) < 1e-7)
		}
		if ok {
			return 1 / scale
		}
	}
	return 1e-4
}

// bandText prints declared bounds; an open side is said, not left out.
func bandText(r capture.Rail) string {
	b, res := r.Bounds, edgeDigits(r.Bounds.Low, r.Bounds.High)
	low, high := capture.Figure(b.Low, res), capture.Figure(b.High, res)
	switch {
	case b.Low >= b.High:
		return "none declared"
	case b.HasLow() && b.HasHigh():
		return tied(low + " to " + high + " V")
	case b.HasLow():
		return tied(low+" V") + " or above"
	case b.HasHigh():
		return tied(high+" V") + " or below"
	}
	return "none declared"
}

// whole groups a count in threes: 143 195.
func whole[N ~int | ~int64 | ~uint64](n N) string {
	s := strconv.FormatUint(uint64(max(n, 0)), 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + nbsp + s[i:]
	}
	return s
}

// percent prints a share so that almost all never reads as all.
func percent(share float64) string {
	switch p := share * 100; {
	case math.IsNaN(p):
		return "not known"
	case p >= 100:
		return "100" + nbsp + "%"
	case p > 99.9:
		return "over 99.9" + nbsp + "%"
	case p <= 0:
		return "0" + nbsp + "%"
	case p < 0.1:
		return "under 0.1" + nbsp + "%"
	case p >= 99 || p < 10:
		return strconv.FormatFloat(p, 'f', 1, 64) + nbsp + "%"
	default:
		return strconv.FormatFloat(p, 'f', 0, 64) + nbsp + "%"
	}
}

// span prints a length of time as finely as it matters.
func span(d time.Duration) string {
	join := func(n int64, unit string) string { return strconv.FormatInt(n, 10) + nbsp + unit }
	switch {
	case d < 0:
		return "not known"
	case d < 100*time.Millisecond:
		return join(int64(math.Round(float64(d)/1e6)), "ms")
	case d < 10*time.Second:
		return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(d.Seconds(), 'f', 2, 64), "0"), ".") + nbsp + "s"
	case d < time.Minute:
		return join(int64(d.Seconds()+.5), "s")
	case d < time.Hour:
		d = d.Round(time.Second)
		return strings.TrimSuffix(join(int64(d/time.Minute), "min")+" "+join(int64(d%time.Minute/time.Second), "s"), " 0"+nbsp+"s")
	}
	d = d.Round(time.Minute)
	return strings.TrimSuffix(join(int64(d/time.Hour), "h")+" "+join(int64(d%time.Hour/time.Minute), "min"), " 0"+nbsp+"min")
}

// count says "one alarm", "3 alarms".
func count(n int, one, many string) string {
	if n == 1 {
		return "one " + one
	}
	return whole(n) + " " + many
}

var small = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

func number(n int) string {
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return whole(n)
}

func capital(s string) string {
	return capture.Capital(s)
}

// lower makes a sentence into a clause: "Missing" to "missing", but "PS2 ..."
// stays as it is.
func lower(s string) string {
	r := []rune(s)
	if len(r) > 1 && unicode.IsUpper(r[0]) && unicode.IsLower(r[1]) {
		return string(unicode.ToLower(r[0])) + string(r[1:])
	}
	return s
}

// scatter prints a standard deviation: two significant digits, at most one
// digit finer than the readings.
func scatter(u capture.Unit, sd, resolution float64) string {
	if !(sd > 0) {
		return fig(u, 0, resolution)
	}
	digit := max(math.Pow(10, math.Floor(math.Log10(sd))-1), resolution/10)
	if digit >= 1e-4 {
		return tied(capture.Figure(sd, digit) + " " + u.Symbol())
	}
	return fig(u, sd, digit)
}

// figures finds the space between a figure and its unit.
var figures = regexp.MustCompile(`(\d) ((?:[GMkmµnp]?(?:V|A|Ω|W|F|Hz)|°C|ms|s|min|h|%)(?:[^\pL\d]|$))`)

// kept ties the figures of a text to their units, so that no line ends between.
func kept(s string) string { return figures.ReplaceAllString(s, "${1}"+nbsp+"${2}") }

// sentence gives a text its full stop.
func sentence(s string) string {
	s = kept(strings.TrimSpace(s))
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "?") || strings.HasSuffix(s, "!") {
		return s
	}
	return s + "."
}

// groups sets a hash in fours, so that it can be read aloud.
func groups(hash string) string {
	var parts []string
	for len(hash) > 4 {
		parts, hash = append(parts, hash[:4]), hash[4:]
	}
	return strings.Join(append(parts, hash), " ")
}
