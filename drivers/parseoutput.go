package drivers

import (
	"fmt"
	"math/bits"
	"regexp"
	"strings"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
)

// outputName is what stands behind the slash of an act's subject: "psu/1".
var outputName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]*$`)

// only is the one output of an instrument whose keys stand at the top.
func (r *reader) only(p *scpi.Plan) *scpi.Output {
	for i := range p.Outputs {
		if p.Outputs[i].Name == "" {
			return &p.Outputs[i]
		}
	}
	p.Outputs = append([]scpi.Output{{Verb: capture.ActOutput}}, p.Outputs...)
	return &p.Outputs[0]
}

func (r *reader) outputName(to *string, what string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if ok && !outputName.MatchString(s) {
			r.wrong(n, "%s: %q: want small letters, digits and hyphens", what, s)
		}
		*to = s
	}
}

func (r *reader) limiting(n *yaml.Node, to **scpi.Limiting) {
	l := &scpi.Limiting{}
	r.mapping(n, "limiting",
		field{"ask", true, r.phrase(&l.Ask, "ask", scpi.CheckQuery)},
		field{"mask", true, r.integer(&l.Mask, "mask")},
	)
	if l.Mask == 0 || bits.Len(uint(l.Mask)) > 16 {
		r.wrong(n, "limiting: mask: want one or more bits of a register of 16")
	}
	*to = l
}

// switched reads the phrases of what goes on and off.
func (r *reader) switched(n *yaml.Node, what string, verb capture.Verb, o *scpi.Output) {
	o.Verb = verb
	r.mapping(n, what,
		field{"ready", false, r.phrases(&o.Ready, "ready")},
		field{"on", true, r.phrase(&o.On, "on", scpi.CheckPhrase)},
		field{"off", true, r.phrase(&o.Off, "off", scpi.CheckPhrase)},
		field{"ask", true, r.phrase(&o.Ask, "ask", scpi.CheckQuery)},
	)
}

// output reads one of several.
func (r *reader) output(n *yaml.Node, p *scpi.Plan) {
	o := scpi.Output{Verb: capture.ActOutput}
	r.mapping(n, "outputs",
		field{"name", true, r.outputName(&o.Name, "name")},
		field{"choose", false, r.phrase(&o.Choose, "choose", scpi.CheckQuiet)},
		field{"chosen", false, func(n *yaml.Node) { r.chosen(n, &o) }},
		field{"output", false, func(n *yaml.Node) { r.switched(n, "output", capture.ActOutput, &o) }},
		field{"input", false, func(n *yaml.Node) { r.switched(n, "input", capture.ActInput, &o) }},
		field{"limits", false, func(n *yaml.Node) { r.limits(n, &o.Limits) }},
		field{"limiting", false, func(n *yaml.Node) { r.limiting(n, &o.Limiting) }},
	)
	if (o.Choose == "") != (o.Chosen.Ask == "") {
		r.wrong(n, "output %s: choose and chosen go together: a reading of another output under this name must not be possible", o.Name)
	}
	if o.Name != "" && p.OutputNamed(o.Name) != nil {
		r.wrong(n, "output %s: there are two of that name", o.Name)
	}
	p.Outputs = append(p.Outputs, o)
}

func (r *reader) chosen(n *yaml.Node, o *scpi.Output) {
	r.mapping(n, "chosen",
		field{"ask", true, r.phrase(&o.Chosen.Ask, "ask", scpi.CheckQuery)},
		field{"answer", true, r.text(&o.Chosen.Answer, "answer")},
	)
}

func (r *reader) limits(n *yaml.Node, to *[]scpi.Limit) {
	r.list(n, "limits", func(e *yaml.Node) { r.limit(e, to) })
}

var limitUnits = map[string]capture.Unit{"V": capture.Volt, "A": capture.Ampere}

func (r *reader) limit(n *yaml.Node, to *[]scpi.Limit) {
	var l scpi.Limit
	var unit string
	r.mapping(n, "limit",
		field{"name", true, r.name(&l.Name, "name")},
		field{"unit", true, r.text(&unit, "unit")},
		field{"set", true, r.phrase(&l.Set, "set", checkSet)},
		field{"ask", true, r.phrase(&l.Ask, "ask", scpi.CheckQuery)},
		field{"step", true, r.number(&l.Step, "step")},
		field{"max", true, r.number(&l.Max, "max")},
		field{"state", false, func(n *yaml.Node) { r.guardState(n, &l) }},
		field{"tripped", false, r.phrase(&l.Tripped, "tripped", scpi.CheckQuery)},
	)
	r.onlyGuards(n, l.Name)
	ok := false
	if l.Unit, ok = limitUnits[unit]; !ok && unit != "" {
		r.wrong(n, "limit %s: unit %q: want V or A", l.Name, unit)
	}
	if (l.Step == 0 || l.Max == 0) && len(r.problems) == 0 {
		r.wrong(n, "limit %s: step and max must be more than nothing", l.Name)
	}
	*to = append(*to, l)
}

func checkSet(phrase string) error {
	if strings.Count(phrase, "{}") != 1 || strings.Contains(phrase, "?") {
		return fmt.Errorf("%q: want a command with {} in the place of the number", phrase)
	}
	return scpi.CheckPhrase(phrase)
}

// checkQuietFill is checkSet for what is sent without anyone's asking.
func checkQuietFill(phrase string) error {
	if err := checkSet(phrase); err != nil {
		return err
	}
	return scpi.CheckQuiet(strings.Replace(phrase, "{}", "1", 1))
}
