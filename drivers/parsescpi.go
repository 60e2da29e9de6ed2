package drivers

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
	"steadyrail/drivers/wire"
)

// scpiFields are the keys of a model whose instrument speaks SCPI.
func (r *reader) scpiFields(m *Model) []field {
	p := &m.Plan
	return []field{
		{"identity", false, func(n *yaml.Node) { r.identity(n, &p.Identity) }},
		{"named", false, func(n *yaml.Node) { r.list(n, "named", func(e *yaml.Node) { r.nameWord(e, m) }) }},
		{"quirks", false, func(n *yaml.Node) { r.list(n, "quirks", func(e *yaml.Node) { r.quirk(e, p) }) }},
		{"set_up", false, r.phrases(&p.SetUp, "set_up")},
		{"channels", true, func(n *yaml.Node) { r.list(n, "channels", func(e *yaml.Node) { r.scpiChannel(e, p) }) }},
		{"limiting", false, func(n *yaml.Node) { r.limiting(n, &r.only(p).Limiting) }},
		{"output", false, func(n *yaml.Node) { r.switched(n, "output", capture.ActOutput, r.only(p)) }},
		{"input", false, func(n *yaml.Node) { r.switched(n, "input", capture.ActInput, r.only(p)) }},
		{"limits", false, func(n *yaml.Node) { r.limits(n, &r.only(p).Limits) }},
		{"outputs", false, func(n *yaml.Node) { r.list(n, "outputs", func(e *yaml.Node) { r.output(e, p) }) }},
	}
}

// scpiWhole checks what only shows when all is read.
func (r *reader) scpiWhole(n *yaml.Node, m *Model) {
	p := &m.Plan
	if len(p.Channels) == 0 {
		r.wrong(n, "channels: there is none")
	}
	for _, c := range p.Channels {
		r.scpiChannelWhole(n, c, p)
	}
	if len(p.Outputs) > 1 && p.Outputs[0].Name == "" {
		r.wrong(n, "outputs: an instrument with several outputs has output, input, limits and limiting under each, not at the top")
	}
	if peeked(n, "output") && peeked(n, "input") {
		r.wrong(n, "output and input: a supply has the one, a load the other")
	}
}

// unitOf is what can stand for an address in a phrase.
var unitOf = regexp.MustCompile(`^[A-Za-z0-9.,:_-]{1,32}$`)

// scpiLink checks that a link with an address has a phrase that chooses it, and
// the other way round: else the instrument that was reached last would answer.
func scpiLink(m *Model, a wire.Address) error {
	switch {
	case m.Select != "" && a.Unit == "":
		return fmt.Errorf("model %s shares its wire: add ?address=, such as %s?address=22", m.Name, a)
	case m.Select == "" && a.Unit != "":
		return fmt.Errorf("model %s does not say how an address is chosen: add line: {select: ...} to a model file of your own", m.Name)
	case a.Unit != "" && !unitOf.MatchString(a.Unit):
		return fmt.Errorf("address %q: use letters, digits, and . , : _ -", a.Unit)
	}
	return nil
}

func peeked(n *yaml.Node, key string) bool {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return true
		}
	}
	return false
}

func (r *reader) scpiChannelWhole(n *yaml.Node, c scpi.Channel, p *scpi.Plan) {
	o := p.OutputNamed(c.Output)
	switch {
	case c.Output != "" && o == nil:
		r.wrong(n, "channel %s: there is no output %q", c.Name, c.Output)
	case c.Limiting && (o == nil || o.Limiting == nil):
		r.wrong(n, "channel %s: limiting is true, but the model does not say how to ask: add limiting: {ask, mask}", c.Name)
	case c.Group != "" && len(c.Select) == 0:
		r.wrong(n, "channel %s: it shares the input of group %s, but there is no select phrase", c.Name, c.Group)
	case (c.FixRange == "") != (c.AutoRange == ""):
		r.wrong(n, "channel %s: fix_range and auto_range go together: what was fixed must be set free again", c.Name)
	case c.FixRange != "" && len(c.Ranges) == 0:
		r.wrong(n, "channel %s: fix_range: the channel lists no ranges to pick from", c.Name)
	}
}

// identity reads how the instrument is asked who it is.
func (r *reader) identity(n *yaml.Node, id *scpi.Identity) {
	if n.Kind == yaml.ScalarNode {
		switch s, _ := r.scalar(n, "identity"); s {
		case "idn":
		case "none":
			id.None = true
		default:
			r.wrong(n, "identity: %q: want idn, none, or {ask, pattern}", s)
		}
		return
	}
	r.mapping(n, "identity",
		field{"ask", true, r.phrase(&id.Ask, "ask", scpi.CheckAsk)},
		field{"pattern", true, r.pattern(&id.Pattern)},
	)
}

// pattern reads how an answer shows who sent it.
func (r *reader) pattern(to **regexp.Regexp) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, "pattern")
		if !ok {
			return
		}
		p, err := scpi.IdentityPattern(s)
		if err != nil {
			r.wrong(n, "pattern: %v", err)
		}
		*to = p
	}
}

func (r *reader) quirk(n *yaml.Node, p *scpi.Plan) {
	s, ok := r.scalar(n, "quirks")
	switch {
	case !ok:
	case !slices.Contains(scpi.Quirks(), s):
		r.wrong(n, "quirks: %q is not known: use %s", s, strings.Join(scpi.Quirks(), ", "))
	case slices.Contains(p.Quirks, s):
		r.wrong(n, "quirks: %s is there twice", s)
	default:
		p.Quirks = append(p.Quirks, s)
	}
}

func (r *reader) scpiChannel(n *yaml.Node, p *scpi.Plan) {
	var info capture.ChannelInfo
	var c scpi.Channel
	r.mapping(n, "channel", append(r.described(&info),
		field{"group", false, r.name(&c.Group, "group")},
		field{"output", false, r.outputName(&c.Output, "output")},
		field{"select", false, r.phrases(&c.Select, "select")},
		field{"read", true, r.phrase(&c.Read, "read", scpi.CheckQuery)},
		field{"fix_range", false, r.phrase(&c.FixRange, "fix_range", checkQuietFill)},
		field{"auto_range", false, r.phrase(&c.AutoRange, "auto_range", scpi.CheckQuiet)},
		field{"read_back", false, r.boolean(&c.ReadBack, "read_back")},
		field{"limiting", false, r.boolean(&c.Limiting, "limiting")},
	)...)
	c.Name, c.Quantity, c.Every, c.Ranges = string(info.ID), info.Quantity, info.Every, info.Accuracy
	c.Aperture, c.Lag, c.Settle, c.InputOhms = info.Aperture, info.Lag, info.Settle, info.InputOhms
	r.distinct(n, info, slices.ContainsFunc(p.Channels, func(o scpi.Channel) bool { return o.Name == c.Name }))
	p.Channels = append(p.Channels, c)
}

// nameWord is one word by which instruments of the model are recognised. It is
// kept in capitals, as it is compared.
func (r *reader) nameWord(n *yaml.Node, m *Model) {
	var word string
	r.text(&word, "named")(n)
	m.Named = append(m.Named, strings.ToUpper(word))
}
