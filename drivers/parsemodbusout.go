package drivers

import (
	"slices"

	"go.yaml.in/yaml/v3"

	"steadyrail/drivers/modbus"
)

func (r *reader) registerBits(n *yaml.Node, what string) *modbus.Bits {
	b := &modbus.Bits{}
	r.mapping(n, what,
		field{"table", false, r.table(&b.Table, "holding", "input")},
		field{"register", true, r.integer(&b.Register, "register")},
		field{"mask", true, r.word(&b.Mask, "mask")},
	)
	r.part(n, modbus.Plan{Limiting: b})
	return b
}

func (r *reader) registerOutput(n *yaml.Node, p *modbus.Plan) {
	o := &modbus.Output{On: 1}
	stated := peeked(n, "on") || peeked(n, "off")
	r.mapping(n, "output",
		field{"table", false, r.table(&o.Table, "holding", "coil")},
		field{"register", true, r.integer(&o.Register, "register")},
		field{"on", false, r.word(&o.On, "on")},
		field{"off", false, r.word(&o.Off, "off")},
		field{"ask", false, func(n *yaml.Node) { o.Ask = r.registerBits(n, "ask") }},
	)
	if o.Table == modbus.Coil && stated {
		r.wrong(n, "output: a coil is on or off: leave the values out")
	}
	r.part(n, modbus.Plan{Output: o})
	p.Output = o
}

func (r *reader) registerLimit(n *yaml.Node, p *modbus.Plan) {
	l := modbus.Limit{Ask: -1}
	unit := ""
	r.mapping(n, "limit", append(r.format(&l.Format),
		field{"name", true, r.name(&l.Name, "name")},
		field{"unit", true, r.text(&unit, "unit")},
		field{"register", true, r.integer(&l.Register, "register")},
		field{"ask", false, r.integer(&l.Ask, "ask")},
		field{"step", false, r.number(&l.Step, "step")},
		field{"max", true, r.number(&l.Max, "max")},
		field{"state", false, func(n *yaml.Node) { l.Always = r.always(n, "want always") }},
	)...)
	r.onlyGuards(n, l.Name)
	ok := false
	if l.Unit, ok = limitUnits[unit]; !ok && unit != "" {
		r.wrong(n, "limit %s: unit %q: want V or A", l.Name, unit)
	}
	if slices.ContainsFunc(p.Limits, func(o modbus.Limit) bool { return o.Name == l.Name }) {
		r.wrong(n, "limit %s: there are two of that name", l.Name)
	}
	r.part(n, modbus.Plan{Limits: []modbus.Limit{l}})
	p.Limits = append(p.Limits, l)
}
