package configs

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// mistakes collects problems of one file.
type mistakes struct {
	file string
	list []Problem
}

func (m *mistakes) add(line int, key, hint, format string, args ...any) {
	m.list = append(m.list, Problem{m.file, line, key, fmt.Sprintf(format, args...), hint})
}

var yamlLine = regexp.MustCompile(`line (\d+): (.*)`)

// parse turns bytes into the tree. Anchors, aliases and tags are refused: they
// make one line mean another.
func (m *mistakes) parse(data []byte) *yaml.Node {
	var doc yaml.Node
	dec := yaml.NewDecoder(strings.NewReader(string(data)))
	if err := dec.Decode(&doc); err != nil {
		m.syntax(err, data)
		return nil
	}
	if len(doc.Content) == 0 || isNull(doc.Content[0]) {
		m.add(0, "", hintExample, "the file says nothing")
		return nil
	}
	var second yaml.Node
	if err := dec.Decode(&second); err == nil {
		m.add(second.Line, "", "keep one document in the file", "a second document begins here")
	}
	root := doc.Content[0]
	if !m.plain(root, "") {
		return nil
	}
	return root
}

func (m *mistakes) syntax(err error, data []byte) {
	if err.Error() == "EOF" {
		m.add(0, "", hintExample, "the file is empty")
		return
	}
	line, what := 0, strings.TrimPrefix(err.Error(), "yaml: ")
	if at := yamlLine.FindStringSubmatch(what); at != nil {
		line, _ = strconv.Atoi(at[1])
		what = at[2]
	}
	hint := "check indentation and quotes near this line"
	if lines := strings.Split(string(data), "\n"); line > 0 && line <= len(lines) && strings.HasPrefix(strings.TrimLeft(lines[line-1], " "), "\t") {
		hint = "indent with spaces, not tabs"
	}
	m.add(line, "", hint, "not YAML: %s", what)
}

// plain reports whether the tree holds nothing but mappings, lists and
// scalars.
func (m *mistakes) plain(n *yaml.Node, key string) bool {
	ok := true
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		m.add(n.Line, key, "write the value out", "anchors and aliases are not used here")
		return false
	}
	if n.Style&yaml.TaggedStyle != 0 {
		m.add(n.Line, key, "leave the tag out", "tags are not used here")
		ok = false
	}
	for _, c := range n.Content {
		ok = m.plain(c, key) && ok
	}
	return ok
}

func isNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Tag == "!!null" && n.Style == 0
}

// field is a key that a mapping may have, and what reads its value.
type field struct {
	name string
	read func(n *yaml.Node, key string)
}

// mapping reads a mapping by its fields. Unknown keys, and keys that differ
// from another only in case, are problems. It returns the lines of the keys
// that are there.
func (m *mistakes) mapping(n *yaml.Node, key string, fields []field) map[string]int {
	if n.Kind != yaml.MappingNode {
		m.add(n.Line, key, "write keys and values, such as "+fields[0].name+": ...", "a mapping is wanted here, not %s", kindOf(n))
		return nil
	}
	seen, folded := map[string]int{}, map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		name := k.Value
		path := join(key, name)
		if k.Kind != yaml.ScalarNode {
			m.add(k.Line, key, "", "a key must be a word")
			continue
		}
		if first, twice := folded[strings.ToLower(name)]; twice {
			m.add(k.Line, path, "keep one of them", "the key stands twice, first on line %d", first)
			continue
		}
		folded[strings.ToLower(name)] = k.Line
		at := slices.IndexFunc(fields, func(f field) bool { return f.name == name })
		if at < 0 {
			m.add(k.Line, path, meant(name, fields), "unknown key")
			continue
		}
		seen[name] = k.Line
		if isNull(v) {
			m.add(k.Line, path, "give it a value or leave the key out", "the key has no value")
			continue
		}
		fields[at].read(v, path)
	}
	return seen
}

func join(key, name string) string {
	if key == "" {
		return name
	}
	return key + "." + name
}

func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	}
	return strconv.Quote(cut(n.Value))
}

// cut keeps messages short whatever stands in the file.
func cut(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return s
}

// items calls read for each item.
func (m *mistakes) items(n *yaml.Node, key string, read func(n *yaml.Node, key string)) {
	if n.Kind != yaml.SequenceNode {
		m.add(n.Line, key, "begin each item with a dash", "a list is wanted here, not %s", kindOf(n))
		return
	}
	for i, item := range n.Content {
		read(item, fmt.Sprintf("%s[%d]", key, i))
	}
}

// meant guesses which key was meant: at most two letters wrong.
func meant(name string, fields []field) string {
	if name != "" && name[0] >= '0' && name[0] <= '9' {
		return "tenths stand behind a point: a comma begins the next key"
	}
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	if best := capture.Nearest(name, names); best != "" {
		return "did you mean " + best + "?"
	}
	return "known here: " + strings.Join(names, ", ")
}
