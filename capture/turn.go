package capture

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Turner turns the figures in a text that people read from the point to a
// bench's decimal mark: "4.98 V" to "4,98 V", "4.90 to 5.10 V". A figure is known
// by the unit that follows it, so that a version, an address, a clause of a
// standard and a file's name stay what they are. The zero value turns nothing.
// It is safe for concurrent use.
type Turner struct {
	mark  DecimalMark
	names *regexp.Regexp // what is a name, figure and all; nil: none
}

// NewTurner makes a turner that leaves the names alone: "+3.3 V DSP" is what a
// rail is called and found by.
func NewTurner(mark DecimalMark, names []string) Turner {
	t := Turner{mark: mark}
	var list []string
	for _, n := range names {
		if mark == Comma && strings.Contains(n, ".") {
			list = append(list, nameForms.Replace(regexp.QuoteMeta(n)))
		}
	}
	if len(list) > 0 {
		t.names = regexp.MustCompile(strings.Join(list, "|"))
	}
	return t
}

// nameForms allows a name as pages write it: with spaces that do not break, a
// true minus, and a plus that is escaped in markup.
var nameForms = strings.NewReplacer(" ", `(?: |\x{00a0}|&nbsp;)`, `\+`, `(?:\+|&#43;)`, "-", `(?:-|\x{2212})`)

// Turns reports whether anything is turned at all.
func (t Turner) Turns() bool { return t.mark == Comma }

// Text turns the figures of a text.
func (t Turner) Text(s string) string {
	if !t.Turns() || !strings.Contains(s, ".") {
		return s
	}
	var skip [][]int
	if t.names != nil {
		skip = t.names.FindAllStringIndex(s, -1)
	}
	out := []byte(s)
	for i := 0; i < len(s); {
		point, end := figureAt(s, i)
		if end == 0 {
			i++
			continue
		}
		if point > 0 && measures(s[end:]) && !within(skip, point) {
			out[point] = ','
		}
		i = end
	}
	return string(out)
}

// Bare turns a text that is a figure and nothing else, as a cell or the axis of
// a chart has it, and otherwise what Text turns.
func (t Turner) Bare(s string) string {
	if !t.Turns() {
		return s
	}
	core := strings.TrimLeft(strings.TrimSpace(s), "+-±\u2212 \u00a0")
	core = strings.TrimPrefix(core, "&#43;")
	if point, end := figureAt("0"+core, 0); strings.HasPrefix(core, ".") && point == 1 && end == len(core)+1 {
		return strings.Replace(s, ".", ",", 1)
	}
	if point, end := figureAt(core, 0); point > 0 && end == len(core) {
		return strings.Replace(s, ".", ",", 1)
	}
	return t.Text(s)
}

func within(spans [][]int, at int) bool {
	for _, s := range spans {
		if at >= s[0] && at < s[1] {
			return true
		}
	}
	return false
}

// figureAt finds the run of digits and points that begins at i. end is 0 where
// none begins; point is 0 where it is no figure with tenths: 2.6.1, v1.2, a_1.5.
func figureAt(s string, i int) (point, end int) {
	if i >= len(s) || !isDigit(s[i]) {
		return 0, 0
	}
	points := 0
	for end = i; end < len(s) && (isDigit(s[end]) || s[end] == '.' && end+1 < len(s) && isDigit(s[end+1])); end++ {
		if s[end] == '.' {
			point = end
			points++
		}
	}
	before, _ := utf8.DecodeLastRuneInString(s[:i])
	if points != 1 || i > 0 && (unicode.IsLetter(before) || strings.ContainsRune("_./:,", before)) {
		point = 0
	}
	return point, end
}

// units that follow a figure on screens and in reports, beside their prefixes.
var (
	unitRun  = regexp.MustCompile(`^(?:[ \x{00a0}\x{202f}]|&nbsp;)?(?:[pnuµmkMG]?(?:V|A|Ω|ohm|W|F|Hz|H|s|m|J)|°C|degC|K|%|h|min|ppm|turns?|times|microseconds|K/W|A/K)(?:$|[^\pL\d_/])`)
	linkRun  = regexp.MustCompile(`^(?:[ \x{00a0}\x{202f}]|&nbsp;)?(?:, greatest|to|and|or|from|of|±|–|…|\.\.\.|/|×|x)(?:[ \x{00a0}\x{202f}]|&nbsp;)?[+\-\x{2212}]?(?:&#43;)?`)
	digitRun = regexp.MustCompile(`^\d+(?:\.\d+)?`)
)

// measures reports whether a unit follows, or another figure that has one:
// "4.90 to 5.10 V".
func measures(rest string) bool {
	for range 4 {
		if unitRun.MatchString(rest) {
			return true
		}
		link := linkRun.FindString(rest)
		if link == "" {
			return false
		}
		digits := digitRun.FindString(rest[len(link):])
		if digits == "" {
			return false
		}
		rest = rest[len(link)+len(digits):]
	}
	return false
}
