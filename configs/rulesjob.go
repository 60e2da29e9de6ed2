package configs

import (
	"errors"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/rules"
)

// each takes joined errors apart.
func each(err error) []error {
	if err == nil {
		return nil
	}
	var many interface{ Unwrap() []error }
	if errors.As(err, &many) {
		return many.Unwrap()
	}
	return []error{err}
}

// ruleUnit is the unit that a kind's limit is written in.
func ruleUnit(kind string) capture.Unit {
	switch kind {
	case "short":
		return capture.Ohm
	case "limiting":
		return capture.Ampere
	}
	return capture.Volt
}

type writtenRule struct {
	rule     capture.Rule
	line     int
	key      string
	tripLine int
}

func (r *reader) rule(n *yaml.Node, key string) {
	var c capture.Rule
	var severity, limit, deadband, of string
	c.Severity = capture.Warning
	lines := r.mapping(n, key, []field{
		{"name", r.identity(&c.Name)},
		{"kind", r.choice(&c.Kind, rules.Kinds()...)},
		{"rail", r.text(&c.Rail)},
		{"severity", r.choice(&severity, "notice", "warning", "urgent")},
		{"limit", r.text(&limit)},
		{"deadband", r.text(&deadband)},
		{"on_delay", r.span(&c.OnDelay, 0, 24*time.Hour)},
		{"off_delay", r.span(&c.OffDelay, 0, 24*time.Hour)},
		{"window", r.span(&c.Window, 0, 24*time.Hour)},
		{"count", r.whole(&c.Count, 0, 1_000_000)},
		{"latch", r.truth(&c.Latch)},
		{"of", r.text(&of)},
		{"trip", r.text(&c.Trip)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"kind", "rail"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), "", "missing")
		}
	}
	c.Of = capture.ChannelID(of)
	if severity != "" {
		c.Severity, _ = capture.ParseSeverity(severity)
	}
	r.figure(&c.Limit, limit, c.Kind, lines["limit"], join(key, "limit"))
	r.figure(&c.Deadband, deadband, c.Kind, lines["deadband"], join(key, "deadband"))
	if c.Name == "" && c.Kind != "" && c.Rail != "" {
		c.Name = c.Kind + " " + c.Rail
	}
	usual(&c, lines)
	r.c.Rules = append(r.c.Rules, c)
	r.written = append(r.written, writtenRule{c, n.Line, key, max(lines["trip"], n.Line)})
}

// figure reads a limit with or without its unit. Files have a point whatever
// people type.
func (r *reader) figure(into *float64, text, kind string, line int, key string) {
	if text == "" {
		return
	}
	u := ruleUnit(kind)
	v, _, err := u.ParseTyped(text, capture.Point)
	if err != nil || strings.Contains(text, ",") {
		r.add(line, key, "write a figure with a point in "+u.ASCII()+", such as 4.75 "+u.ASCII(), "%q cannot be read as a limit", cut(text))
		return
	}
	*into = v
}

// checkRules holds all rules together against the standing job's rails; where
// no job stands, rails are named by the jobs to come.
func (r *reader) checkRules() {
	seen := map[string]int{}
	for _, w := range r.written {
		if w.rule.Kind == "" || w.rule.Rail == "" {
			continue
		}
		sheet := capture.Sheet{Rails: []capture.Rail{{Name: w.rule.Rail}}}
		if r.c.Job != nil {
			sheet.Rails = r.c.Job.Rails
		}
		for _, err := range rules.Check(sheet, capture.RuleSet{Rules: []capture.Rule{w.rule}, Formulas: r.c.Formulas}) {
			r.add(w.line, w.key, "", "%v", err)
		}
		if first, twice := seen[w.rule.Name]; twice {
			r.add(w.line, w.key+".name", "give one of them a name", "rule %q also stands on line %d", w.rule.Name, first)
		}
		seen[w.rule.Name] = w.line
		r.checkTrip(w)
	}
}

func (r *reader) job(n *yaml.Node, key string) {
	var j JobConfig
	lines := r.mapping(n, key, []field{
		{"name", r.identity(&j.Name)}, {"rails", r.text(&j.RailsLine)}, {"set", r.text(&j.Set)}, {"board", r.text(&j.Board)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"name", "rails"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), `write name: fixture and rails: "+5 2%, +12 5%"`, "missing")
		}
	}
	if j.Name != "" {
		if err := capture.CheckJobID(j.Name); err != nil {
			r.add(lines["name"], join(key, "name"), "", "%v", err)
		}
	}
	if j.RailsLine != "" {
		rails, err := capture.ParseRails(j.RailsLine)
		if err != nil {
			r.add(lines["rails"], join(key, "rails"), "", "%v", err)
			return
		}
		j.Rails = rails
		r.c.Job = &j
	}
}
