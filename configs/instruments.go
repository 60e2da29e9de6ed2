package configs

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

var instrumentName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]{0,31}$`)

const nameHint = "begin with a letter and use letters, digits, - and _, at most 32"

// CheckName reports why an instrument may not have a name.
func CheckName(name string) error {
	if !instrumentName.MatchString(name) {
		return fmt.Errorf("%q cannot name an instrument: %s", cut(name), nameHint)
	}
	return nil
}

// instrument reads one item of the list and what can be told from it alone.
func (r *reader) instrument(n *yaml.Node, key string) {
	var c drivers.Config
	before := len(r.list)
	lines := r.mapping(n, key, []field{
		{"name", r.identity(&c.Name)},
		{"model", r.text(&c.Model)},
		{"link", r.text(&c.Link)},
		{"expect", func(n *yaml.Node, key string) { r.expect(&c, n, key) }},
		{"isolation", func(n *yaml.Node, key string) { r.isolation(&c, n, key) }},
		{"calibration_due", r.date(&c.CalibrationDue)},
		{"every", r.span(&c.Every, 10*time.Millisecond, time.Hour)},
		{"acts", func(n *yaml.Node, key string) { r.acts(&c, n, key) }},
		{"on_exit", r.choice(&c.OnExit, "leave", "off")},
		{"record", r.text(&c.Record)},
		{"transforms", func(n *yaml.Node, key string) {
			r.items(n, key, func(n *yaml.Node, key string) { r.transform(&c, n, key) })
		}},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"name", "model", "link"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), hints[must], "missing")
		}
	}
	line := func(name string) int { return max(lines[name], n.Line) }
	r.checkName(c.Name, line("name"), join(key, "name"))
	r.checkModel(c, n.Line, lines, key)
	r.checkLink(c.Link, line("link"), join(key, "link"))
	if len(r.list) == before && len(r.c.Models) > 0 {
		r.lastWord(c, n, key)
	}
	r.c.Instruments = append(r.c.Instruments, c)
}

var hints = map[string]string{
	"name":  "a short word that names the instrument on this bench, such as dmm",
	"model": "the model file that says how to talk to it, such as scpi-multimeter",
	"link":  "where it is attached, such as usb-serial:VID:PID:SERIAL; `steadyrail ports` lists what is there",
}

func (r *reader) checkName(name string, line int, key string) {
	if name == "" {
		return
	}
	if !instrumentName.MatchString(name) {
		r.add(line, key, nameHint, "%q cannot name an instrument", cut(name))
		return
	}
	if strings.EqualFold(name, capture.FormulaInstrument) {
		r.add(line, key, "give it another name", "%q names what formulas come to", name)
		return
	}
	if first, twice := r.names[strings.ToLower(name)]; twice {
		r.add(line, key, "give each instrument a name of its own", "%q is also the name of the instrument on line %d", name, first)
		return
	}
	r.names[strings.ToLower(name)] = line
}

// checkModel holds the item against the model file.
func (r *reader) checkModel(c drivers.Config, line int, lines map[string]int, key string) {
	if c.Model == "" || len(r.c.Models) == 0 {
		return
	}
	known := r.c.Models.Names()
	if !slices.Contains(known, c.Model) {
		r.add(lines["model"], join(key, "model"), suggestion(c.Model, known), "there is no model %q, neither built in nor in the folder of the key models", cut(c.Model))
		return
	}
	can := modelActs(r.c.Models, c.Model)
	for _, act := range c.Acts {
		if !slices.Contains(can, act) {
			r.add(lines["acts"], join(key, "acts"), "leave it out", "model %s cannot do %q", c.Model, act)
		}
	}
	supply := slices.Contains(can, "output") || slices.Contains(can, "input")
	if c.Isolation.Output != "" && !supply {
		r.add(lines["isolation"], join(key, "isolation.output"), "leave it out; port says what an input is tied to", "model %s has no output", c.Model)
	}
	switch {
	case supply && lines["on_exit"] == 0:
		r.add(line, join(key, "on_exit"), "write on_exit: leave to keep the output as it is when steadyrail ends, or on_exit: off to switch it off", "missing: a supply must say what happens to its output")
	case !supply && lines["on_exit"] != 0:
		r.add(lines["on_exit"], join(key, "on_exit"), "leave it out", "model %s has no output", c.Model)
	case c.OnExit == "off" && !slices.Contains(c.Acts, "output") && !slices.Contains(c.Acts, "input"):
		r.add(lines["on_exit"], join(key, "on_exit"), "add output to acts, or write on_exit: leave", "switching the output off is not among the acts that are allowed")
	}
}

func (r *reader) checkLink(link string, line int, key string) {
	if link == "" {
		return
	}
	a, err := wire.ParseAddress(link)
	if err != nil {
		r.add(line, key, "", "%v", err)
		return
	}
	where := a.Place()
	if a.Unit != "" { // several share the wire, each under its own address
		where += " address " + a.Unit
	}
	if first, twice := r.places[where]; twice {
		r.add(line, key, "one instrument to a link", "the instrument on line %d is on the same link %s", first, where)
		return
	}
	r.places[where] = line
}

func (r *reader) expect(c *drivers.Config, n *yaml.Node, key string) {
	r.mapping(n, key, []field{
		{"serial_number", r.identity(&c.Expect.Serial)},
		{"maker", r.identity(&c.Expect.Maker)},
		{"model", r.identity(&c.Expect.Model)},
		{"firmware", r.identity(&c.Expect.Firmware)},
	})
}

func (r *reader) acts(c *drivers.Config, n *yaml.Node, key string) {
	known := []string{"output", "input", "limits"}
	r.items(n, key, func(n *yaml.Node, key string) {
		var act string
		if r.choice(&act, known...)(n, key); act == "" {
			return
		}
		if slices.Contains(c.Acts, act) {
			r.add(n.Line, key, "name it once", "%s stands twice", act)
			return
		}
		c.Acts = append(c.Acts, act)
	})
}

// date reads 2027-03-01.
func (r *reader) date(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		s, ok := r.word(n, key)
		if !ok {
			return
		}
		if _, err := time.Parse(time.DateOnly, s); err != nil {
			r.add(n.Line, key, "write year-month-day, such as 2027-03-01", "%q is no date", cut(s))
			return
		}
		*into = s
	}
}

// modelHint names the models once, for the problem of a bench without
// instruments.
func modelHint(names []string) string { return fmt.Sprintf("models: %s", strings.Join(names, ", ")) }
