package configs

import (
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/rules/diagnose"
)

// LoadBoard reads a board sheet. With any problem the result is nil; all
// problems are reported, in order of line.
func LoadBoard(path string) (*diagnose.Board, []Problem) {
	data, problem := readFile(path)
	if problem != nil {
		return nil, hintAs("configs/board.yaml", []Problem{*problem})
	}
	return ParseBoard(path, data)
}

// ParseBoard is LoadBoard for bytes that were read already.
func ParseBoard(path string, data []byte) (*diagnose.Board, []Problem) {
	m := &boardReader{mistakes: mistakes{file: path}}
	if !utf8.Valid(data) {
		m.add(0, "", "save it as UTF-8", "the file is not text in UTF-8")
		return nil, m.list
	}
	if root := m.parse(data); root != nil {
		m.top(root)
	}
	if len(m.list) > 0 {
		return nil, hintAs("configs/board.yaml", inOrder(m.list))
	}
	return &m.out, nil
}

// boardReader remembers where each name stands, so that what hangs in the air
// is told with its line.
type boardReader struct {
	mistakes
	out   diagnose.Board
	names []placed // of parts
	rails []placed // where each rail is declared
	uses  []placed // rails that are named elsewhere
	made  []placed // rails that a source or a converter makes
}

type placed struct {
	name, key string
	line      int
}

func (m *boardReader) top(root *yaml.Node) {
	each := func(read func(*yaml.Node, string)) func(*yaml.Node, string) {
		return func(n *yaml.Node, key string) { m.items(n, key, read) }
	}
	lines := m.mapping(root, "", []field{
		{"board", m.text(&m.out.Name)}, {"rails", each(m.rail)}, {"sources", each(m.source)},
		{"converters", each(m.converter)}, {"loads", each(m.load)}, {"capacitors", each(m.capacitor)}, {"points", each(m.point)}, {"healthy", each(m.healthy)}, {"usual", each(m.usual)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"rails", "sources"} {
		if lines[must] == 0 {
			m.add(0, must, "copy configs/board.yaml and change it", "missing")
		}
	}
	m.settled()
	m.check()
}

func (m *boardReader) rail(n *yaml.Node, key string) {
	line, ok := m.word(n, key)
	if !ok {
		return
	}
	rails, err := capture.ParseRails(line)
	switch {
	case err != nil:
		m.add(n.Line, key, "", "%v", err)
	case len(rails) != 1:
		m.add(n.Line, key, `write one, such as "+5 2% logic at=TP5"`, "%d rails stand here", len(rails))
	case slices.ContainsFunc(m.rails, func(p placed) bool { return strings.EqualFold(p.name, rails[0].Name) }):
		m.add(n.Line, key, "tell them apart by a word", "%s is declared twice", rails[0].Name)
	default:
		m.rails = append(m.rails, placed{rails[0].Name, key, n.Line})
		m.out.Rails = append(m.out.Rails, rails[0])
	}
}

// name reads the name of a part, which is unique on the board.
func (m *boardReader) name(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		m.identity(into)(n, key)
		if *into == "" {
			return
		}
		if i := slices.IndexFunc(m.names, func(p placed) bool { return strings.EqualFold(p.name, *into) }); i >= 0 {
			m.add(n.Line, key, "give it a name of its own", "%s is there already, on line %d", *into, m.names[i].line)
			return
		}
		m.names = append(m.names, placed{*into, key, n.Line})
	}
}

// on reads the name of a rail that is declared under rails.
func (m *boardReader) on(into *string, list ...*[]placed) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		*into = s
		for _, l := range append(list, &m.uses) {
			*l = append(*l, placed{s, key, n.Line})
		}
	}
}

func (m *boardReader) ohms(into *float64) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := m.word(n, key)
		if !ok {
			return
		}
		v, _, err := capture.Ohm.ParseTyped(s, capture.Point)
		switch {
		case err != nil:
			m.add(n.Line, key, "write such as 220 ohm", "%v", err)
		case v < 0.01 || v > 1e9:
			m.add(n.Line, key, "write what it has healthy and cold, such as 220 ohm", "%q is no resistance of a healthy part", cut(s))
		default:
			*into = v
		}
	}
}

// part reads a mapping whose fields up to must have to be there.
func (m *boardReader) part(n *yaml.Node, key string, must int, fields ...field) {
	lines := m.mapping(n, key, fields)
	if lines == nil {
		return
	}
	for _, f := range fields[:must] {
		if lines[f.name] == 0 {
			m.add(n.Line, join(key, f.name), "", "missing")
		}
	}
}

func (m *boardReader) source(n *yaml.Node, key string) {
	var s diagnose.Source
	m.part(n, key, 2, field{"name", m.name(&s.Name)}, field{"rail", m.on(&s.Rail, &m.made)})
	m.out.Sources = append(m.out.Sources, s)
}

func (m *boardReader) converter(n *yaml.Node, key string) {
	var c diagnose.Converter
	m.part(n, key, 5, field{"name", m.name(&c.Name)}, field{"in", m.on(&c.In)}, field{"out", m.on(&c.Out, &m.made)},
		field{"ohms", m.ohms(&c.Ohms)}, field{"in_ohms", m.ohms(&c.InOhms)}, field{"enable", m.identity(&c.Enable)}, field{"inductor", m.identity(&c.Inductor)}, field{"kind", m.shape(&c.Shape)})
	m.out.Converters = append(m.out.Converters, c)
}

func (m *boardReader) load(n *yaml.Node, key string) {
	var l diagnose.Load
	m.part(n, key, 3, field{"name", m.name(&l.Name)}, field{"rail", m.on(&l.Rail)}, field{"ohms", m.ohms(&l.Ohms)}, field{"connector", m.identity(&l.Connector)})
	m.out.Loads = append(m.out.Loads, l)
}

func (m *boardReader) capacitor(n *yaml.Node, key string) {
	var c diagnose.Capacitor
	m.part(n, key, 2, field{"name", m.name(&c.Name)}, field{"rail", m.on(&c.Rail)})
	m.out.Capacitors = append(m.out.Capacitors, c)
}

// usual reads how much more often a fault is seen, and who says so.
func (m *boardReader) usual(n *yaml.Node, key string) {
	var p diagnose.Prior
	var kind string
	m.part(n, key, 4, field{"part", m.identity(&p.Part)}, field{"fault", m.text(&kind)},
		field{"times", m.amount(&p.Times, 0.01, 100, "write such as 3")}, field{"source", m.text(&p.Source)})
	p.Kind = diagnose.Kind(kind)
	if p.Part != "" && kind != "" && !slices.Contains(m.out.Faults(), diagnose.Fault{Part: p.Part, Kind: p.Kind}) {
		m.add(n.Line, key, "put usual last; a part fails as: "+m.fails(p.Part), "%s does not fail as %q", p.Part, cut(kind))
		return
	}
	m.out.Priors = append(m.out.Priors, p)
}

func (m *boardReader) fails(part string) string {
	var out []string
	for _, f := range m.out.Faults() {
		if f.Part == part {
			out = append(out, string(f.Kind))
		}
	}
	if out == nil {
		return "it is not on the sheet"
	}
	return strings.Join(out, ", ")
}
