package drivers

import (
	"fmt"
	"math/bits"
	"regexp"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
)

// defaultEvery is the poll interval of a channel whose model says nothing.
const defaultEvery = 200 * time.Millisecond

// plainName is what can stand in a channel's ID and in a metric's label.
var plainName = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

func (r *reader) model(n *yaml.Node, m *Model) {
	var output, limiting *yaml.Node
	keep := func(to **yaml.Node) func(*yaml.Node) { return func(n *yaml.Node) { *to = n } }
	r.mapping(n, "model",
		field{"title", true, r.text(&m.Title, "title")},
		field{"dialect", true, r.dialect(&m.Dialect)},
		field{"line", false, func(n *yaml.Node) { r.line(n, m) }},
		field{"set_up", false, r.phrases(&m.Plan.SetUp, "set_up")},
		field{"limiting", false, keep(&limiting)},
		field{"channels", true, func(n *yaml.Node) { r.list(n, "channels", func(e *yaml.Node) { r.channel(e, m) }) }},
		field{"output", false, keep(&output)},
		field{"limits", false, func(n *yaml.Node) { r.list(n, "limits", func(e *yaml.Node) { r.limit(e, m) }) }},
	)
	if limiting != nil {
		r.limiting(limiting, m)
	}
	if output != nil {
		r.output(output, m)
	}
	r.whole(n, m)
}

// whole checks what only shows when all is read.
func (r *reader) whole(n *yaml.Node, m *Model) {
	if len(m.Plan.Channels) == 0 && n.Kind == yaml.MappingNode {
		r.wrong(n, "channels: there is none")
	}
	for _, c := range m.Plan.Channels {
		if c.Limiting && m.Plan.Limiting == nil {
			r.wrong(n, "channel %s: limiting is true, but the model does not say how to ask: add limiting: {ask, mask}", c.Name)
		}
		if c.Group != "" && len(c.Select) == 0 {
			r.wrong(n, "channel %s: it shares the input of group %s, but there is no select phrase", c.Name, c.Group)
		}
	}
}

func (r *reader) dialect(to *string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.text(to, "dialect")(n)
		if _, ok := dialects[*to]; !ok && *to != "" {
			r.wrong(n, "dialect: %q is not known: use %s", *to, strings.Join(dialectNames(), ", "))
		}
	}
}

func (r *reader) line(n *yaml.Node, m *Model) {
	l := &m.Line
	r.mapping(n, "line",
		field{"baud", false, r.integer(&l.Baud, "baud")},
		field{"data_bits", false, r.integer(&l.DataBits, "data_bits")},
		field{"parity", false, r.text(&l.Parity, "parity")},
		field{"stop_bits", false, r.text(&l.StopBits, "stop_bits")},
		field{"dtr", false, r.text(&l.DTR, "dtr")},
		field{"rts", false, r.text(&l.RTS, "rts")},
		field{"terminator", false, r.text(&l.Terminator, "terminator")},
		field{"answer_timeout", false, r.span(&l.AnswerTimeout, "answer_timeout")},
		field{"quiet", false, r.span(&l.Quiet, "quiet")},
		field{"longest_line", false, r.integer(&l.Limit, "longest_line")},
	)
	if err := l.Validate(); err != nil {
		r.wrong(n, "line: %v", err)
	}
}

func (r *reader) phrases(to *[]string, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.list(n, what, func(e *yaml.Node) {
			var s string
			r.phrase(&s, what, scpi.CheckQuiet)(e)
			*to = append(*to, s)
		})
	}
}

func (r *reader) channel(n *yaml.Node, m *Model) {
	c := scpi.Channel{Every: defaultEvery}
	r.mapping(n, "channel",
		field{"name", true, r.name(&c.Name, "name")},
		field{"quantity", true, r.quantity(&c.Quantity, "quantity")},
		field{"group", false, r.name(&c.Group, "group")},
		field{"every", false, r.span(&c.Every, "every")},
		field{"select", false, r.phrases(&c.Select, "select")},
		field{"read", true, r.phrase(&c.Read, "read", scpi.CheckQuery)},
		field{"aperture", false, r.span(&c.Aperture, "aperture")},
		field{"lag", false, r.span(&c.Lag, "lag")},
		field{"read_back", false, r.boolean(&c.ReadBack, "read_back")},
		field{"limiting", false, r.boolean(&c.Limiting, "limiting")},
		field{"ranges", false, func(n *yaml.Node) { r.list(n, "ranges", func(e *yaml.Node) { r.accuracy(e, &c) }) }},
	)
	for _, other := range m.Plan.Channels {
		if other.Name == c.Name && c.Name != "" {
			r.wrong(n, "channel %s: there are two of that name", c.Name)
		}
	}
	if c.Every == 0 {
		r.wrong(n, "channel %s: every: must be more than nothing", c.Name)
	}
	m.Plan.Channels = append(m.Plan.Channels, c)
}

func (r *reader) name(to *string, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if ok && !plainName.MatchString(s) {
			r.wrong(n, "%s: %q: want small letters, digits and hyphens", what, s)
		}
		*to = s
	}
}

func (r *reader) accuracy(n *yaml.Node, c *scpi.Channel) {
	var a capture.Accuracy
	r.mapping(n, "range",
		field{"range", true, r.number(&a.Range, "range")},
		field{"of_reading", false, r.number(&a.OfReading, "of_reading")},
		field{"of_range", false, r.number(&a.OfRange, "of_range")},
		field{"digits", false, r.number(&a.Digits, "digits")},
		field{"resolution", true, r.number(&a.Resolution, "resolution")},
		field{"per_kelvin", false, r.number(&a.PerKelvin, "per_kelvin")},
		field{"source", true, r.text(&a.Uncertainty, "source")},
	)
	switch {
	case a.Range > 0 && a.Resolution >= a.Range:
		r.wrong(n, "range: resolution %g is not below the range %g", a.Resolution, a.Range)
	case a.OfReading >= 1 || a.OfRange >= 1 || a.PerKelvin >= 1:
		r.wrong(n, "range: parts, not per cent: 0.00015 is 0.015 %%")
	}
	c.Ranges = append(c.Ranges, a)
}

func (r *reader) limiting(n *yaml.Node, m *Model) {
	l := &scpi.Limiting{}
	r.mapping(n, "limiting",
		field{"ask", true, r.phrase(&l.Ask, "ask", scpi.CheckQuery)},
		field{"mask", true, r.integer(&l.Mask, "mask")},
	)
	if l.Mask == 0 || bits.Len(uint(l.Mask)) > 16 {
		r.wrong(n, "limiting: mask: want one or more bits of a register of 16")
	}
	m.Plan.Limiting = l
}

func (r *reader) output(n *yaml.Node, m *Model) {
	o := &scpi.Output{}
	r.mapping(n, "output",
		field{"on", true, r.phrase(&o.On, "on", scpi.CheckPhrase)},
		field{"off", true, r.phrase(&o.Off, "off", scpi.CheckPhrase)},
		field{"ask", true, r.phrase(&o.Ask, "ask", scpi.CheckQuery)},
	)
	m.Plan.Output = o
}

var limitUnits = map[string]capture.Unit{"V": capture.Volt, "A": capture.Ampere}

func (r *reader) limit(n *yaml.Node, m *Model) {
	var l scpi.Limit
	var unit string
	r.mapping(n, "limit",
		field{"name", true, r.name(&l.Name, "name")},
		field{"unit", true, r.text(&unit, "unit")},
		field{"set", true, r.phrase(&l.Set, "set", checkSet)},
		field{"ask", true, r.phrase(&l.Ask, "ask", scpi.CheckQuery)},
		field{"step", true, r.number(&l.Step, "step")},
		field{"max", true, r.number(&l.Max, "max")},
	)
	ok := false
	if l.Unit, ok = limitUnits[unit]; !ok && unit != "" {
		r.wrong(n, "limit %s: unit %q: want V or A", l.Name, unit)
	}
	if (l.Step == 0 || l.Max == 0) && len(r.problems) == 0 {
		r.wrong(n, "limit %s: step and max must be more than nothing", l.Name)
	}
	m.Plan.Limits = append(m.Plan.Limits, l)
}

func checkSet(phrase string) error {
	if strings.Count(phrase, "{}") != 1 || strings.Contains(phrase, "?") {
		return fmt.Errorf("%q: want a command with {} in the place of the number", phrase)
	}
	return scpi.CheckPhrase(phrase)
}
