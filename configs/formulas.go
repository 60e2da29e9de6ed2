package configs

import (
	"errors"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/rules"
)

type writtenFormula struct {
	formula capture.Formula
	line    int // of its text
	key     string
}

// formula reads one item of formulas. Its text is checked when every channel is
// known.
func (r *reader) formula(n *yaml.Node, key string) {
	var c capture.Formula
	before := len(r.list)
	lines := r.mapping(n, key, []field{
		{"name", r.channelNamed(&c.Name)},
		{"text", r.text(&c.Text)},
		{"unit", r.choice(&c.Unit, rules.FormulaUnits()...)},
		{"age", r.span(&c.Age, 100*time.Millisecond, time.Hour)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"name", "text", "unit"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), formulaHints[must], "missing")
		}
	}
	if len(r.list) > before {
		return
	}
	r.c.Formulas = append(r.c.Formulas, c)
	r.formulas = append(r.formulas, writtenFormula{c, lines["text"], key})
}

var formulaHints = map[string]string{
	"name": "a short word, such as power: the channel is then formula/power",
	"text": "plain arithmetic over channels, such as supply/volts * supply/amperes",
	"unit": "what the arithmetic must come to: " + either(rules.FormulaUnits()) + ", 1 being a plain number",
}

// checkFormulas holds all formulas against the channels that are known.
func (r *reader) checkFormulas() {
	if r.about == nil {
		return
	}
	of := func(id capture.ChannelID) (capture.Quantity, bool) {
		ch, known := r.about(id)
		return ch.Quantity, known
	}
	seen := map[string]int{}
	for _, w := range r.formulas {
		for _, err := range rules.CheckFormulas([]capture.Formula{w.formula}, of) {
			r.add(w.line, join(w.key, "text"), "", "%v%s", err, shown(err))
		}
		if first, twice := seen[w.formula.Name]; twice {
			r.add(w.line, join(w.key, "name"), "give each formula a name of its own", "formula %q also stands on line %d", w.formula.Name, first)
		}
		seen[w.formula.Name] = w.line
	}
}

// shown is the text of a formula with a caret under its mistake, on two lines
// of their own.
func shown(err error) string {
	var at interface {
		error
		Caret() string
	}
	if !errors.As(err, &at) || at.Caret() == "" {
		return ""
	}
	return "\n    " + strings.ReplaceAll(at.Caret(), "\n", "\n    ")
}

// channels learns what the instruments of the file measure. No link is opened
// for it. Where an instrument cannot be made, which is told already, nothing is
// learned: no formula and no rule shall be blamed for it.
func (r *reader) channels() {
	known := map[capture.ChannelID]capture.ChannelInfo{}
	for _, c := range r.c.Instruments {
		in, err := drivers.Open(c, r.c.Models)
		if err != nil {
			return
		}
		for _, ch := range in.Info().Channels {
			known[ch.ID] = ch
		}
	}
	r.about = func(id capture.ChannelID) (capture.ChannelInfo, bool) {
		ch, ok := known[id]
		return ch, ok
	}
}
