package drivers

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// reader decodes a tree of YAML nodes strictly and collects what is wrong.
// Scalars are read as the text that was written: YAML's own typing would turn
// 00123457 into an octal number.
type reader struct {
	file     string
	problems []error
	speaks   string                                // the dialect
	note     func(dialect, what string, f []field) // of tests: told of each mapping's keys; nil: nobody is
}

func (r *reader) wrong(n *yaml.Node, format string, args ...any) {
	r.problems = append(r.problems, fmt.Errorf("%w: %s:%d: %s", ErrModel, r.file, n.Line, fmt.Sprintf(format, args...)))
}

func (r *reader) document(text []byte) *yaml.Node {
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		line := 1
		_, _ = fmt.Sscanf(err.Error(), "yaml: line %d:", &line)
		r.wrong(&yaml.Node{Line: line}, "%s", strings.TrimPrefix(err.Error(), "yaml: "))
		return nil
	}
	if len(doc.Content) == 0 {
		r.wrong(&yaml.Node{Line: 1}, "the file is empty")
		return nil
	}
	return doc.Content[0]
}

// field is a key that a mapping may have, and what to do with its value.
type field struct {
	key    string
	needed bool
	read   func(*yaml.Node)
}

// mapping hands every value of a mapping to its field. Unknown, doubled and
// missing keys are wrong.
func (r *reader) mapping(n *yaml.Node, what string, fields ...field) {
	if n.Kind != yaml.MappingNode {
		r.wrong(n, "%s: want keys with values", what)
		return
	}
	if r.note != nil {
		r.note(r.speaks, what, fields)
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		f := find(fields, key.Value)
		switch {
		case f == nil:
			r.wrong(key, "%s: key %q is not known: use %s", what, key.Value, keys(fields))
		case seen[key.Value]:
			r.wrong(key, "%s: key %q is there twice", what, key.Value)
		default:
			f.read(n.Content[i+1])
		}
		seen[key.Value] = true
	}
	for _, f := range fields {
		if f.needed && !seen[f.key] {
			r.wrong(n, "%s: key %q is missing", what, f.key)
		}
	}
}

func find(fields []field, key string) *field {
	for i := range fields {
		if fields[i].key == key {
			return &fields[i]
		}
	}
	return nil
}

func keys(fields []field) string {
	var out []string
	for _, f := range fields {
		out = append(out, f.key)
	}
	return strings.Join(out, ", ")
}

// list hands every element of a sequence on.
func (r *reader) list(n *yaml.Node, what string, each func(*yaml.Node)) {
	if n.Kind != yaml.SequenceNode {
		r.wrong(n, "%s: want a list", what)
		return
	}
	for _, e := range n.Content {
		each(e)
	}
}

// scalar returns the text of a plain value; anchors and nested values are not.
func (r *reader) scalar(n *yaml.Node, what string) (string, bool) {
	if n.Kind != yaml.ScalarNode || n.Tag == "!!null" {
		r.wrong(n, "%s: want one plain value", what)
		return "", false
	}
	return n.Value, true
}

func (r *reader) text(to *string, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if s, ok := r.scalar(n, what); ok {
			*to = s
			if s == "" {
				r.wrong(n, "%s: is empty", what)
			}
		}
	}
}

func (r *reader) integer(to *int, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, err := strconv.Atoi(s)
		if err != nil || v < 0 || (len(s) > 1 && s[0] == '0') {
			r.wrong(n, "%s: %q is not a whole number from 0 on", what, s)
			return
		}
		*to = v
	}
}

// number reads a value in a base unit; it must not be negative.
func (r *reader) number(to *float64, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v >= 0 && v < 1e30) {
			r.wrong(n, "%s: %q is not a number from 0 on, in the base unit", what, s)
			return
		}
		*to = v
	}
}

func (r *reader) boolean(to *bool, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		switch s, ok := r.scalar(n, what); {
		case !ok:
		case s == "true" || s == "false":
			*to = s == "true"
		default:
			r.wrong(n, "%s: %q is not true or false", what, s)
		}
	}
}

// span reads "200 ms" or "200ms".
func (r *reader) span(to *time.Duration, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, err := time.ParseDuration(strings.ReplaceAll(s, " ", ""))
		if err != nil || v < 0 {
			r.wrong(n, "%s: %q is not a time such as 200 ms or 1.5 s", what, s)
			return
		}
		*to = v
	}
}

// ohms reads a resistance: "10 Mohm", "10e6". It must be more than nothing.
func (r *reader) ohms(to *float64, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, _, err := capture.Ohm.ParseTyped(s, capture.Point)
		if err != nil || !(v > 0) {
			r.wrong(n, "%s: %q is not a resistance such as 10 Mohm", what, s)
			return
		}
		*to = v
	}
}

func (r *reader) quantity(to *capture.Quantity, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		q, err := capture.ParseQuantity(s)
		if err != nil {
			r.wrong(n, "%s: %v", what, err)
		}
		*to = q
	}
}

// phrase reads something to send, and holds it against a check.
func (r *reader) phrase(to *string, what string, check func(string) error) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		if err := check(s); err != nil {
			r.wrong(n, "%s: %v", what, err)
		}
		if s == "" || strings.ContainsFunc(s, func(c rune) bool { return c < ' ' || c > '~' }) {
			r.wrong(n, "%s: %q: want printable ASCII", what, s)
		}
		*to = s
	}
}
