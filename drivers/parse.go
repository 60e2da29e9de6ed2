package drivers

import (
	"regexp"
	"slices"
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

// model reads the keys that every model has and those of its dialect, which is
// looked up first: it may stand anywhere in the file.
func (r *reader) model(n *yaml.Node, m *Model) {
	d, known := dialects[peek(n, "dialect")]
	fields := []field{
		{"title", true, r.text(&m.Title, "title")},
		{"dialect", true, r.dialect(&m.Dialect)},
		{"source", true, r.text(&m.Source, "source")},
		{"line", false, func(n *yaml.Node) { r.line(n, m) }},
		{"auto_off", false, r.span(&m.AutoOff, "auto_off")},
	}
	if known {
		r.speaks = peek(n, "dialect")
		fields = append(fields, d.fields(r, m)...)
	} else {
		fields = append(fields, r.anyDialect(m)...)
	}
	r.mapping(n, "model", fields...)
	if known && n.Kind == yaml.MappingNode {
		d.whole(r, n, m)
	}
}

// anyDialect takes the keys of every dialect unread: where the dialect is wrong
// or missing, that is the one mistake to tell, not each key that goes with it.
func (r *reader) anyDialect(m *Model) []field {
	var out []field
	for _, name := range dialectNames() {
		for _, f := range dialects[name].fields(r, m) {
			if find(out, f.key) == nil {
				out = append(out, field{f.key, false, func(*yaml.Node) {}})
			}
		}
	}
	return out
}

// peek returns the text of a key before the mapping is read.
func peek(n *yaml.Node, key string) string {
	for i := 0; i+1 < len(n.Content) && n.Kind == yaml.MappingNode; i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1].Value
		}
	}
	return ""
}

func (r *reader) dialect(to *string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.text(to, "dialect")(n)
		if !slices.Contains(dialectNames(), *to) && *to != "" {
			r.wrong(n, "dialect: %q is not known: use %s", *to, strings.Join(dialectNames(), ", "))
		}
	}
}

// line reads how bytes travel. Which values go together is the wire's to say.
func (r *reader) line(n *yaml.Node, m *Model) {
	l := &m.Line
	r.mapping(n, "line",
		field{"baud", false, r.integer(&l.Baud, "baud")},
		field{"data_bits", false, r.integer(&l.DataBits, "data_bits")},
		field{"parity", false, r.text(&l.Parity, "parity")},
		field{"stop_bits", false, r.text(&l.StopBits, "stop_bits")},
		field{"dtr", false, r.text(&l.DTR, "dtr")},
		field{"rts", false, r.text(&l.RTS, "rts")},
		field{"levels_for", false, r.text(&l.LevelsFor, "levels_for")},
		field{"handshake", false, r.text(&l.Handshake, "handshake")},
		field{"terminator", false, r.text(&l.Terminator, "terminator")},
		field{"opening", false, r.phrases(&l.Opening, "opening")},
		field{"closing", false, r.phrases(&l.Closing, "closing")},
		field{"pause", false, r.span(&l.Pause, "pause")},
		field{"echo", false, r.text(&l.Echo, "echo")},
		field{"answer_timeout", false, r.span(&l.AnswerTimeout, "answer_timeout")},
		field{"quiet", false, r.span(&l.Quiet, "quiet")},
		field{"longest_line", false, r.integer(&l.Limit, "longest_line")},
		field{"select", false, r.phrase(&m.Select, "select", checkQuietFill)},
	)
	switch stated := l.DTR != "" || l.RTS != ""; {
	case l.LevelsFor != "" && !stated:
		r.wrong(n, "levels_for: state dtr and rts, the levels that are needed")
	case l.LevelsFor != "":
		l.Levels = "needed"
	case stated:
		l.Levels = "any"
	}
	if err := l.Validate(); err != nil {
		r.wrong(n, "line: %v", err)
	}
}

// described are the keys of a channel in every dialect. The ID is the name
// alone, until the instrument has one.
func (r *reader) described(c *capture.ChannelInfo) []field {
	c.Every = defaultEvery
	return []field{
		{"name", true, func(n *yaml.Node) {
			var name string
			r.name(&name, "name")(n)
			c.ID = capture.ChannelID(name)
		}},
		{"quantity", true, r.quantity(&c.Quantity, "quantity")},
		{"every", false, r.span(&c.Every, "every")},
		{"aperture", false, r.span(&c.Aperture, "aperture")},
		{"lag", false, r.span(&c.Lag, "lag")},
		{"settle", false, r.span(&c.Settle, "settle")},
		{"input_ohms", false, r.ohms(&c.InputOhms, "input_ohms")},
		{"ranges", false, func(n *yaml.Node) {
			r.list(n, "ranges", func(e *yaml.Node) { r.accuracy(e, &c.Accuracy) })
		}},
	}
}

// distinct checks what all channels of all dialects have to hold to.
func (r *reader) distinct(n *yaml.Node, c capture.ChannelInfo, taken bool) {
	if taken && c.ID != "" {
		r.wrong(n, "channel %s: there are two of that name", c.ID)
	}
	if c.Every == 0 {
		r.wrong(n, "channel %s: every: must be more than nothing", c.ID)
	}
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

func (r *reader) accuracy(n *yaml.Node, to *[]capture.Accuracy) {
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
	*to = append(*to, a)
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
