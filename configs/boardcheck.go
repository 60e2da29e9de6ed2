package configs

import (
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/rules/diagnose"
)

// Most parts of a sheet: two at once are held against each other, and a
// hundred parts are some thirty thousand explanations.
const mostParts = 100

// check looks for what no line shows alone: rails that are not declared, that
// nothing makes, that two make, or that come round to themselves.
func (m *boardReader) check() {
	if len(m.names) > mostParts {
		m.add(m.names[mostParts].line, m.names[mostParts].key, "leave out what cannot be at fault", "%d parts: at most %d can be held against each other", len(m.names), mostParts)
	}
	for _, u := range m.uses {
		if !slices.ContainsFunc(m.rails, func(r placed) bool { return r.name == u.name }) {
			m.add(u.line, u.key, m.known(u.name), "there is no rail %q", cut(u.name))
		}
	}
	for _, r := range m.rails {
		var by []placed
		for _, p := range m.made {
			if p.name == r.name {
				by = append(by, p)
			}
		}
		switch {
		case len(by) == 0:
			m.add(r.line, r.key, "name the source or converter that feeds it, or leave the rail out", "nothing makes %s: it hangs in the air", r.name)
		case len(by) > 1:
			m.add(by[1].line, by[1].key, "keep one", "%s is made twice, first on line %d", r.name, by[0].line)
		}
	}
	m.loops()
	m.connectors()
}

func (m *boardReader) known(name string) string {
	var all []string
	for _, r := range m.rails {
		all = append(all, r.name)
	}
	if best := capture.Nearest(name, all); best != "" {
		return "did you mean " + best + "?"
	}
	return "declare it under rails; there are " + strings.Join(all, ", ")
}

// loops reports each ring of converters once, at its first converter.
func (m *boardReader) loops() {
	told := map[string]bool{}
	for _, c := range m.out.Converters {
		ring := m.ring(c.Out)
		if ring == nil || told[c.Out] {
			continue
		}
		for _, r := range ring {
			told[r] = true
		}
		at := slices.IndexFunc(m.made, func(p placed) bool { return p.name == c.Out })
		m.add(m.made[at].line, m.made[at].key, "one of them must be fed from elsewhere", "a loop: %s", strings.Join(append(ring, c.Out), " is made from "))
	}
}

// ring follows the feeding rails up from one and returns them when they come
// back to it.
func (m *boardReader) ring(from string) []string {
	out := []string{from}
	for rail := from; ; {
		at := slices.IndexFunc(m.out.Converters, func(c diagnose.Converter) bool { return c.Out == rail && c.Out != "" })
		if at < 0 {
			return nil
		}
		rail = m.out.Converters[at].In
		if rail == from {
			return out
		}
		if slices.Contains(out, rail) {
			return nil
		}
		out = append(out, rail)
	}
}

// connectors must not be called like a part.
func (m *boardReader) connectors() {
	for _, c := range m.out.Connectors() {
		if i := slices.IndexFunc(m.names, func(p placed) bool { return strings.EqualFold(p.name, c) }); i >= 0 {
			m.add(m.names[i].line, m.names[i].key, "give one of them another name", "%s is a connector, too", c)
		}
	}
}
