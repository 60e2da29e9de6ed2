package configs

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// word returns the scalar as it was written.
func (m *mistakes) word(n *yaml.Node, key string) (string, bool) {
	if n.Kind != yaml.ScalarNode {
		m.add(n.Line, key, "", "a single value is wanted here, not %s", kindOf(n))
		return "", false
	}
	if strings.ContainsFunc(n.Value, unicode.IsControl) {
		m.add(n.Line, key, "", "there are control characters in the value")
		return "", false
	}
	if strings.TrimSpace(n.Value) == "" {
		m.add(n.Line, key, "give it a value or leave the key out", "the value is empty")
		return "", false
	}
	return n.Value, true
}

// text reads a scalar into a string.
func (m *mistakes) text(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		if s, ok := m.word(n, key); ok {
			*into = s
		}
	}
}

// identity reads a scalar that names a thing in the world. What YAML would
// take for a number, a date or a truth must be quoted: another reader of the
// file, or the next version of this one, would see 42799 where 00123457 stands.
func (m *mistakes) identity(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		quoted := n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0
		if !quoted && n.Tag != "!!str" {
			m.add(n.Line, key, "put it in quotes: "+strconv.Quote(s), "%s is read as %s, not as text", cut(s), readAs[n.Tag])
			return
		}
		*into = s
	}
}

var readAs = map[string]string{"!!int": "a number", "!!float": "a number", "!!bool": "yes or no", "!!timestamp": "a date", "!!null": "nothing"}

// choice reads one of a few words.
func (m *mistakes) choice(into *string, words ...string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		if !slices.Contains(words, s) {
			m.add(n.Line, key, suggestion(s, words), "%q is not known here", cut(s))
			return
		}
		*into = s
	}
}

func suggestion(s string, words []string) string {
	if best := capture.Nearest(s, words); best != "" {
		return "did you mean " + best + "?"
	}
	return "use " + either(words)
}

// either lists words as a sentence does: "a, b or c".
func either(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

var span = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(us|µs|ms|s|min|h)$`)

var spanUnits = map[string]time.Duration{"us": time.Microsecond, "µs": time.Microsecond, "ms": time.Millisecond, "s": time.Second, "min": time.Minute, "h": time.Hour}

// parseSpan reads a length of time: "200 ms", "0.5 s", "10min".
func parseSpan(s string) (time.Duration, bool) {
	at := span.FindStringSubmatch(s)
	if at == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(at[1], 64)
	d := v * float64(spanUnits[at[2]])
	if err != nil || d > float64(math.MaxInt64/2) {
		return 0, false
	}
	return time.Duration(math.Round(d)), true
}

// span reads a length of time between least and most.
func (m *mistakes) span(into *time.Duration, least, most time.Duration) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		d, ok := parseSpan(s)
		switch {
		case !ok && regexp.MustCompile(`^[0-9.]+$`).MatchString(s):
			m.add(n.Line, key, "write "+s+" ms or "+s+" s", "%s has no unit of time", cut(s))
		case !ok:
			m.add(n.Line, key, "write a figure and ms, s, min or h, such as 200 ms", "%q is no length of time", cut(s))
		case d < least || d > most:
			m.add(n.Line, key, "", "%s is not between %s and %s", s, least, most)
		default:
			*into = d
		}
	}
}

// truth reads true or false and nothing else.
func (m *mistakes) truth(into *bool) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		switch s, ok := m.word(n, key); {
		case !ok:
		case s == "true" || s == "false":
			*into = s == "true"
		default:
			m.add(n.Line, key, "write true or false", "%q is neither true nor false", cut(s))
		}
	}
}

// whole reads a count from least to most.
func (m *mistakes) whole(into *int, least, most int) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		v, err := strconv.Atoi(s)
		if err != nil || v < least || v > most || s != strconv.Itoa(v) {
			m.add(n.Line, key, "", "%q is not a whole number from %d to %d", cut(s), least, most)
			return
		}
		*into = v
	}
}
