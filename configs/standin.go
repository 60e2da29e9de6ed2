package configs

import (
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/rules/standin"
)

// StandIn is a file that holds what a board asks for and the converters that
// might take a dead one's place.
type StandIn struct {
	Need       standin.Need
	Candidates []standin.Candidate
}

// LoadStandIn reads such a file. With any problem the result is nil; all
// problems are reported, in order of line. A key that is left out is a figure
// that nobody stated, which is no problem of the file.
func LoadStandIn(path string) (*StandIn, []Problem) {
	data, problem := readFile(path)
	if problem != nil {
		return nil, hintAs("configs/standin.yaml", []Problem{*problem})
	}
	return ParseStandIn(path, data)
}

// ParseStandIn is LoadStandIn for bytes that were read already.
func ParseStandIn(path string, data []byte) (*StandIn, []Problem) {
	m := &standInReader{mistakes: mistakes{file: path}}
	if !utf8.Valid(data) {
		m.add(0, "", "save it as UTF-8", "the file is not text in UTF-8")
		return nil, m.list
	}
	if root := m.parse(data); root != nil {
		m.top(root)
	}
	if len(m.list) > 0 {
		return nil, hintAs("configs/standin.yaml", inOrder(m.list))
	}
	return &m.out, nil
}

type standInReader struct {
	mistakes
	out StandIn
}

func (m *standInReader) top(root *yaml.Node) {
	lines := m.mapping(root, "", []field{
		{"rail", m.rail},
		{"need", m.need},
		{"candidates", func(n *yaml.Node, key string) { m.items(n, key, m.candidate) }},
	})
	if lines == nil {
		return
	}
	for _, must := range []field{{name: "rail"}, {name: "need"}, {name: "candidates"}} {
		if lines[must.name] == 0 {
			m.add(0, must.name, "", "missing")
		}
	}
}

// rail reads one rail as a line of rails has it.
func (m *standInReader) rail(n *yaml.Node, key string) {
	line, ok := m.word(n, key)
	if !ok {
		return
	}
	rails, err := capture.ParseRails(line)
	switch {
	case err != nil:
		m.add(n.Line, key, "", "%v", err)
	case len(rails) != 1:
		m.add(n.Line, key, `write one, such as "+5 2% logic"`, "%d rails stand here", len(rails))
	default:
		m.out.Need.Rail = rails[0]
	}
}

func (m *standInReader) divider(c *standin.Candidate, n *yaml.Node, key string) {
	d := &standin.Divider{}
	var fixed, track standin.Figure
	lines := m.mapping(n, key, []field{
		{"reference", m.figure(&d.Reference, inVolt)}, {"held", m.figure(&d.Held, inOhm)}, {"other", m.figure(&d.Other, inOhm)},
		{"bias", m.figure(&d.Bias, inAmpere)}, {"trim", m.figure(&d.Trim, inOhm)}, {"trim_in", m.choice(&d.TrimIn, "held", "other")},
		{"tied", m.truth(&d.Tied)}, {"tolerance", m.figure(&fixed, inPart)}, {"trim_tolerance", m.figure(&track, inPart)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"tolerance", "trim_tolerance"} {
		if lines[must] == 0 {
			m.add(n.Line, join(key, must), "write 1 %; printed on the part, or 20 %; usual for a trimmer", "missing: the span hangs on it")
		}
	}
	d.Tolerance, d.TrimTol = fixed.Value, track.Value
	c.Divider = d
}

// quantityOf says in what a figure is written.
type quantityOf struct {
	unit    capture.Unit
	suffix  string // of units that people never give a prefix: "K/W"
	example string
	zero    bool // may be zero: "it needs no load", "no input capacitor"
	signed  bool
}

var (
	inVolt        = quantityOf{unit: capture.Volt, example: "6.5 V; data sheet, table 3", signed: true}
	inAmpere      = quantityOf{unit: capture.Ampere, example: "1.10 A ± 0.02 A; measured with dmm2", zero: true}
	inOhm         = quantityOf{unit: capture.Ohm, example: "0.08 ohm; measured", zero: true}
	inFarad       = quantityOf{unit: capture.Farad, example: "470 uF; printed on it", zero: true}
	inHertz       = quantityOf{unit: capture.Hertz, example: "500 kHz; data sheet, page 5"}
	inHertzOrNone = quantityOf{unit: capture.Hertz, example: "330 kHz; seen on it, or 0 Hz; no other converter on the board", zero: true}
	inLevel       = quantityOf{unit: capture.Volt, example: "0.4 V; data sheet, table 2", zero: true}
	inI2t         = quantityOf{unit: capture.One, suffix: "A2s", example: "4.2 A2s; data sheet of the fuse"}
	inHenry       = quantityOf{unit: capture.Henry, example: "15 uH; printed on it"}
	inCelsius     = quantityOf{unit: capture.Celsius, example: "42 degC ± 2 K; measured beside it", zero: true, signed: true}
	inSecond      = quantityOf{unit: capture.Second, example: "5 ms; data sheet, page 7"}
	inMetre       = quantityOf{unit: capture.Metre, example: "43 mm; measured"}
	inPart        = quantityOf{unit: capture.One, example: "88 %; data sheet, figure 4"}
	inKPerWatt    = quantityOf{unit: capture.One, suffix: "K/W", example: "35 K/W; data sheet, table 2, on its own board"}
	inAmperePerK  = quantityOf{unit: capture.One, suffix: "A/K", example: "0.04 A/K; data sheet, figure 9", zero: true}
)

// figure reads "VALUE; SOURCE" or "VALUE ± DOUBT; SOURCE".
func (m *standInReader) figure(into *standin.Figure, q quantityOf) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		text, ok := m.word(n, key)
		if !ok {
			return
		}
		hint := "write such as " + q.example
		value, source, _ := strings.Cut(text, ";")
		if source = strings.TrimSpace(source); source == "" {
			m.add(n.Line, key, hint, "%q does not say where the figure is from", cut(text))
			return
		}
		value, doubt, doubted := strings.Cut(strings.ReplaceAll(value, "+-", "±"), "±")
		f := standin.Figure{Source: source}
		var err error
		if f.Value, err = q.parse(value); err == nil && doubted {
			f.U, err = q.parse(asDifference(doubt, q))
		}
		switch {
		case err != nil:
			m.add(n.Line, key, hint, "%v", err)
		case f.U < 0 || f.Value < 0 && !q.signed || f.Value == 0 && !q.zero:
			m.add(n.Line, key, hint, "%q cannot be so: it must be above zero", cut(text))
		default:
			*into = f
		}
	}
}

// asDifference takes kelvin for a difference of degrees.
func asDifference(doubt string, q quantityOf) string {
	if q.unit == capture.Celsius {
		doubt, _ = strings.CutSuffix(strings.TrimSpace(doubt), "K")
	}
	return doubt
}

func (q quantityOf) parse(text string) (float64, error) {
	text = strings.TrimSpace(text)
	if q.suffix != "" {
		text = strings.TrimSpace(strings.TrimSuffix(text, q.suffix))
	}
	v, _, err := q.unit.ParseTyped(text, capture.Point)
	return v, err
}

// Candidate returns the candidate of a name, or the only one for an empty one.
func (s *StandIn) Candidate(name string) (standin.Candidate, bool) {
	if name == "" && len(s.Candidates) == 1 {
		return s.Candidates[0], true
	}
	i := slices.IndexFunc(s.Candidates, func(c standin.Candidate) bool { return c.Name == name })
	if i < 0 {
		return standin.Candidate{}, false
	}
	return s.Candidates[i], true
}
