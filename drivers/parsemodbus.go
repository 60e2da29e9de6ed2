package drivers

import (
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers/modbus"
)

// modbusFields are the keys of a model whose instrument is read by registers.
func (r *reader) modbusFields(m *Model) []field {
	p := &m.Registers
	return []field{
		{"identity", false, func(n *yaml.Node) { r.registerIdentity(n, &p.Identity) }},
		{"channels", true, func(n *yaml.Node) { r.list(n, "channels", func(e *yaml.Node) { r.registerChannel(e, p) }) }},
		{"limiting", false, func(n *yaml.Node) { p.Limiting = r.registerBits(n, "limiting") }},
		{"output", false, func(n *yaml.Node) { r.registerOutput(n, p) }},
		{"limits", false, func(n *yaml.Node) { r.list(n, "limits", func(e *yaml.Node) { r.registerLimit(e, p) }) }},
		{"write_multiple", false, r.boolean(&p.Multiple, "write_multiple")},
	}
}

// modbusWhole checks what only shows when all is read. What is wrong with a
// single entry was told at its own line.
func (r *reader) modbusWhole(n *yaml.Node, m *Model) {
	p := m.Registers
	if len(p.Channels) == 0 {
		r.wrong(n, "channels: there is none")
	}
	for _, c := range p.Channels {
		if c.Limiting && p.Limiting == nil {
			r.wrong(n, "channel %s: limiting is true, but the model does not say where: add limiting: {register, mask}", c.Info.ID)
		}
	}
	if l := m.Line; len(l.Opening) > 0 || len(l.Closing) > 0 || l.Terminator != "" || m.Select != "" {
		r.wrong(n, "line: opening, closing, select and terminator are of text: registers have none")
	}
}

// part tells what a plan of one entry alone has against it, at that entry.
func (r *reader) part(n *yaml.Node, p modbus.Plan) {
	if err := p.Check(); err != nil {
		r.wrong(n, "%v", err)
	}
}

func (r *reader) registerChannel(n *yaml.Node, p *modbus.Plan) {
	c := modbus.Channel{Table: modbus.Holding}
	r.mapping(n, "channel", slices.Concat(r.described(&c.Info), r.format(&c.Format), []field{
		{"table", false, r.table(&c.Table, "holding", "input")},
		{"register", true, r.integer(&c.Register, "register")},
		{"resolution", false, r.number(&c.Resolution, "resolution")},
		{"over_range", false, r.raws(&c.OverRange, "over_range")},
		{"under_range", false, r.raws(&c.UnderRange, "under_range")},
		{"not_a_number", false, r.raws(&c.NotANumber, "not_a_number")},
		{"read_back", false, r.boolean(&c.Info.Setpoint, "read_back")},
		{"limiting", false, r.boolean(&c.Limiting, "limiting")},
	})...)
	r.distinct(n, c.Info, slices.ContainsFunc(p.Channels, func(o modbus.Channel) bool { return o.Info.ID == c.Info.ID }))
	r.part(n, modbus.Plan{Channels: []modbus.Channel{c}})
	p.Channels = append(p.Channels, c)
}

// format reads how a number lies in registers.
func (r *reader) format(f *modbus.Format) []field {
	return []field{
		{"words", false, r.integer(&f.Words, "words")},
		{"signed", false, r.boolean(&f.Signed, "signed")},
		{"float32", false, r.boolean(&f.Float, "float32")},
		{"word_order", false, r.order(&f.LowWordFirst, "word_order")},
		{"byte_order", false, r.order(&f.LowByteFirst, "byte_order")},
		{"scale", false, r.scale(&f.Scale)},
	}
}

func (r *reader) order(low *bool, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		switch s, ok := r.scalar(n, what); {
		case !ok:
		case s == "high_first" || s == "low_first":
			*low = s == "low_first"
		default:
			r.wrong(n, "%s: %q: want high_first or low_first", what, s)
		}
	}
}

func (r *reader) scale(to *modbus.Scale) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, "scale")
		if !ok {
			return
		}
		v, err := modbus.ParseScale(s)
		if err != nil {
			r.wrong(n, "%v", err)
		}
		*to = v
	}
}

var registerTables = map[string]modbus.Table{"holding": modbus.Holding, "input": modbus.Input, "coil": modbus.Coil}

func (r *reader) table(to *modbus.Table, names ...string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, "table")
		if ok && !slices.Contains(names, s) {
			r.wrong(n, "table: %q: want %s", s, strings.Join(names, " or "))
		}
		*to = registerTables[s]
	}
}

// raws reads what registers hold when there is no number, in decimal or as
// 0x7FFF.
func (r *reader) raws(to *[]uint64, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.list(n, what, func(e *yaml.Node) {
			s, ok := r.scalar(e, what)
			if !ok {
				return
			}
			v, err := parseRaw(s)
			if err != nil {
				r.wrong(e, "%s: %q: want the registers' content, such as 32767 or 0x7FFF", what, s)
			}
			*to = append(*to, v)
		})
	}
}

func parseRaw(s string) (uint64, error) {
	if digits, hex := strings.CutPrefix(s, "0x"); hex {
		return strconv.ParseUint(digits, 16, 64)
	}
	if len(s) > 1 && s[0] == '0' {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseUint(s, 10, 64)
}

// word is raws for one register.
func (r *reader) word(to *uint16, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, err := parseRaw(s)
		if err != nil || v > 0xFFFF {
			r.wrong(n, "%s: %q: want the content of a register, such as 1 or 0x0001", what, s)
		}
		*to = uint16(v)
	}
}

func (r *reader) registerIdentity(n *yaml.Node, id *modbus.Identity) {
	block := func(to **modbus.Block) func(*yaml.Node) {
		return func(n *yaml.Node) { *to = r.block(n) }
	}
	r.mapping(n, "identity",
		field{"maker", false, block(&id.Maker)},
		field{"model", false, block(&id.Model)},
		field{"serial_number", false, block(&id.Serial)},
		field{"firmware", false, block(&id.Firmware)},
	)
	if *id == (modbus.Identity{}) {
		r.wrong(n, "identity: it says nothing: leave it out")
	}
	r.part(n, modbus.Plan{Identity: *id})
}

func (r *reader) block(n *yaml.Node) *modbus.Block {
	b := &modbus.Block{Words: 1}
	as := ""
	r.mapping(n, "identity",
		field{"table", false, r.table(&b.Table, "holding", "input")},
		field{"register", true, r.integer(&b.Register, "register")},
		field{"words", false, r.integer(&b.Words, "words")},
		field{"as", true, r.text(&as, "as")},
		field{"word_order", false, r.order(&b.Format.LowWordFirst, "word_order")},
		field{"byte_order", false, r.order(&b.Format.LowByteFirst, "byte_order")},
	)
	switch as {
	case "number":
		b.Number, b.Format.Words = true, b.Words
	case "text":
		if b.Format != (modbus.Format{}) {
			r.wrong(n, "identity: the orders are of numbers: a text has its first character in the high byte")
		}
	case "":
	default:
		r.wrong(n, "identity: as: %q: want text or number", as)
	}
	return b
}
