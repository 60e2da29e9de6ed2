package configs

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/rules/diagnose"
)

// longestTrace bounds where a point may lie, in metre.
const longestTrace = 10.0

// point reads a place where a probe reaches a trace. Points of one rail stand in
// the order in which a current from the source passes them; at, the distance
// along the trace, is given for all of them or for none.
func (m *boardReader) point(n *yaml.Node, key string) {
	p := diagnose.TracePoint{At: -1}
	m.part(n, key, 2, field{"name", m.identity(&p.Name)}, field{"rail", m.on(&p.Rail)}, field{"at", m.distance(&p.At)})
	var last *diagnose.TracePoint
	for i := range m.out.Points {
		if m.out.Points[i].Rail == p.Rail {
			last = &m.out.Points[i]
			if strings.EqualFold(last.Name, p.Name) {
				m.add(n.Line, key, "give it a name of its own", "%s is on %s already", p.Name, p.Rail)
				return
			}
		}
	}
	switch {
	case last == nil:
	case (p.At < 0) != (last.At < 0):
		m.add(n.Line, key, "give at for every point of a rail, or for none", "%s and %s: only one has a distance", last.Name, p.Name)
		return
	case p.At >= 0 && p.At <= last.At:
		m.add(n.Line, key, "write points in the order in which the current passes them", "%s is not farther along than %s", p.Name, last.Name)
		return
	}
	m.out.Points = append(m.out.Points, p)
}

// distance reads a length along a trace: "35 mm".
func (m *boardReader) distance(into *float64) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		v, _, err := capture.Metre.ParseTyped(s, capture.Point)
		if err != nil || v < 0 || v > longestTrace || !strings.HasSuffix(s, "m") {
			m.add(n.Line, key, "write such as 35 mm", "%q is no distance along a trace", cut(s))
			return
		}
		*into = v
	}
}

// healthy reads what a rail has to its return on a board that is well.
func (m *boardReader) healthy(n *yaml.Node, key string) {
	var h diagnose.Healthy
	m.part(n, key, 2, field{"rail", m.on(&h.Rail)}, field{"ohms", m.ohms(&h.Ohms)}, field{"reversed", m.ohms(&h.Reversed)}, field{"source", m.text(&h.Source)})
	if slices.ContainsFunc(m.out.Healthy, func(o diagnose.Healthy) bool { return o.Rail == h.Rail && h.Rail != "" }) {
		m.add(n.Line, key, "keep one", "%s is there twice", h.Rail)
		return
	}
	m.out.Healthy = append(m.out.Healthy, h)
}

// settled leaves 0 where no point of a rail has a distance.
func (m *boardReader) settled() {
	for i := range m.out.Points {
		m.out.Points[i].At = max(0, m.out.Points[i].At)
	}
}

// shape reads what kind of converter one is, where the rails do not show it.
func (m *boardReader) shape(into *diagnose.Shape) func(*yaml.Node, string) {
	var words []string
	for _, s := range diagnose.Shapes() {
		words = append(words, string(s))
	}
	return func(n *yaml.Node, key string) {
		var word string
		m.choice(&word, words...)(n, key)
		*into = diagnose.Shape(word)
	}
}
