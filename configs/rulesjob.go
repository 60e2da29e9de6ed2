package configs

import (
	"errors"
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

type writtenRule struct {
	rule  capture.Rule
	line  int
	key   string
	lines map[string]int    // of its keys
	texts map[string]string // its figures, as written
}

func (r *reader) rule(n *yaml.Node, key string) {
	var c capture.Rule
	var severity, limit, deadband string
	var more ruleMore
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
		{"of", r.text(&more.of)},
		{"trip", r.text(&c.Trip)},
		{"against", r.text(&c.Against)},
		{"low", r.text(&more.low)},
		{"high", r.text(&more.high)},
	})
	if lines == nil {
		return
	}
	for _, must := range []string{"kind", "rail"} {
		if lines[must] == 0 {
			r.add(n.Line, join(key, must), "", "missing")
		}
	}
	if severity != "" {
		c.Severity, _ = capture.ParseSeverity(severity)
	}
	if !r.figure(&c.Limit, limit, c, lines["limit"], join(key, "limit")) {
		limit = "" // said: nothing more about it
	}
	r.figure(&c.Deadband, deadband, c, lines["deadband"], join(key, "deadband"))
	r.moreOf(&c, more, lines, key)
	if c.Name == "" && c.Kind != "" && c.Rail != "" {
		c.Name = c.Kind + " " + c.Rail
	}
	usual(&c, lines)
	r.c.Rules = append(r.c.Rules, c)
	r.written = append(r.written, writtenRule{c, n.Line, key, lines,
		map[string]string{"limit": limit, "deadband": deadband, "low": more.low, "high": more.high}})
}

// checkRules holds all rules together against the standing job's rails; where
// no job stands, rails are named by the jobs to come.
func (r *reader) checkRules() {
	seen := map[string]int{}
	for _, w := range r.written {
		if w.rule.Kind == "" || w.rule.Rail == "" {
			continue
		}
		before := len(r.list)
		sheet := capture.Sheet{Rails: []capture.Rail{{Name: w.rule.Rail}}}
		if rules.RailAgainst(w.rule) {
			sheet.Rails = append(sheet.Rails, capture.Rail{Name: w.rule.Against})
		}
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
		r.checkChannels(w)
		if len(r.list) == before {
			r.checkFits(w)
		}
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
