package configs

import (
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// LoadSoakPlan reads a plan of a soak: the keys of steadyrail soak start, each on
// its line. With any problem the plan is empty; all problems are reported, in
// order of line. What is left out is no part of the plan.
func LoadSoakPlan(path string) (capture.Regimen, []Problem) {
	data, problem := readFile(path)
	if problem != nil {
		return capture.Regimen{}, []Problem{*problem}
	}
	return ParseSoakPlan(path, data)
}

// ParseSoakPlan is LoadSoakPlan for bytes that were read already.
func ParseSoakPlan(path string, data []byte) (capture.Regimen, []Problem) {
	m := &mistakes{file: path}
	if !utf8.Valid(data) {
		m.add(0, "", "save it as UTF-8", "the file is not text in UTF-8")
		return capture.Regimen{}, m.list
	}
	plan := capture.Regimen{}
	if root := m.parse(data); root != nil {
		plan = m.soakPlan(root)
	}
	if len(m.list) > 0 {
		return capture.Regimen{}, inOrder(m.list)
	}
	return plan, nil
}

func (m *mistakes) soakPlan(root *yaml.Node) capture.Regimen {
	texts := map[string]string{}
	var fields []field
	for _, key := range capture.RegimenKeys {
		fields = append(fields, field{key, m.planned(texts, key)})
	}
	lines := m.mapping(root, "", fields)
	if lines == nil {
		return capture.Regimen{}
	}
	for { // a key that cannot be read is put aside, so that the next is told of too
		plan, err := capture.TypedRegimen(func(key string) string { return texts[key] })
		if err == nil {
			return plan
		}
		key, why, _ := strings.Cut(err.Error(), ": ")
		if texts[key] == "" || !slices.Contains(capture.RegimenKeys, key) {
			if len(m.list) == 0 {
				m.add(0, "", "see configs/soakplan.yaml", "%v", err)
			}
			return capture.Regimen{}
		}
		m.add(lines[key], key, "see configs/soakplan.yaml", "%s", why)
		delete(texts, key)
	}
}

// planned keeps the text of a key; a list is what stands between commas too.
func (m *mistakes) planned(into map[string]string, key string) func(*yaml.Node, string) {
	return func(n *yaml.Node, _ string) {
		if n.Kind != yaml.SequenceNode {
			if text, ok := m.word(n, key); ok {
				into[key] = text
			}
			return
		}
		if key != "steps" && key != "loads" {
			m.add(n.Line, key, "", "a single value is wanted here, not %s", kindOf(n))
			return
		}
		var list []string
		m.items(n, key, func(n *yaml.Node, key string) {
			if text, ok := m.word(n, key); ok {
				list = append(list, text)
			}
		})
		into[key] = strings.Join(list, "; ")
	}
}
