package rules

import (
	"context"
	"slices"

	"steadyrail/capture"
)

// WhatIf is rules and formulas to judge a stored job with in place of those
// that were written for it. They hold from the job's first rule set on, however
// often that was changed later. The rules that follow from the rails stay as
// they were recorded, and so do the job's formulas, unless one here has the
// same name.
type WhatIf struct {
	Rules    []capture.Rule
	Formulas []capture.Formula
	Only     bool // nothing of the job's own stays
}

// Set returns what is in force where the record says was.
func (w WhatIf) Set(was capture.RuleSet) capture.RuleSet {
	out := capture.RuleSet{Engine: Version}
	if !w.Only {
		for _, r := range was.Rules {
			if r.Implied && !slices.ContainsFunc(w.Rules, func(o capture.Rule) bool { return o.Name == r.Name }) {
				out.Rules = append(out.Rules, r)
			}
		}
		for _, f := range was.Formulas {
			if !slices.ContainsFunc(w.Formulas, func(o capture.Formula) bool { return o.Name == f.Name }) {
				out.Formulas = append(out.Formulas, f)
			}
		}
	}
	out.Rules, out.Formulas = append(out.Rules, w.Rules...), append(out.Formulas, w.Formulas...)
	return out
}

// instead is a job's record as it would be with other rules. Nothing is written.
type instead struct {
	Source
	what  WhatIf
	alarm []capture.Transition
}

func (s *instead) Records(ctx context.Context, from, to capture.Instant, yield func(capture.Record) error) error {
	return s.Source.Records(ctx, from, to, func(rec capture.Record) error {
		if set, ok := rec.Item.(capture.RuleSet); ok {
			rec.Item = s.what.Set(set)
		}
		return yield(rec)
	})
}

func (s *instead) Transitions(context.Context) ([]capture.Transition, error) { return s.alarm, nil }

// Occurrence is an alarm from when its condition came to when it went. One that
// comes again while nobody has heard it counts again.
type Occurrence struct {
	Rule     string            `json:"rule"`
	Kind     string            `json:"kind"`
	Rail     string            `json:"rail"`
	Channel  capture.ChannelID `json:"channel,omitempty"`
	Severity capture.Severity  `json:"severity"`
	Came     capture.Instant   `json:"came"`
	Went     capture.Instant   `json:"went,omitempty"` // 0: it was there at the end
	Say      string            `json:"say"`            // as it came
	Value    float64           `json:"value"`
	Limit    float64           `json:"limit"`
	Unit     string            `json:"unit,omitempty"`
	Muted    string            `json:"muted,omitempty"` // why nobody was told as it came
}

// Occurrences tells transitions as comings and goings, in order.
func Occurrences(list []capture.Transition) []Occurrence {
	var out []Occurrence
	open := map[string]int{} // by rule; looked up, never ranged over
	for _, t := range list {
		switch {
		case t.To.IsActive() && !t.From.IsActive():
			open[t.Rule] = len(out)
			out = append(out, Occurrence{
				Rule: t.Rule, Kind: t.Kind, Rail: t.Rail, Channel: t.Channel, Severity: t.Severity, Came: t.At,
				Say: t.Say, Value: t.Value, Limit: t.Limit, Unit: t.Unit, Muted: t.Muted,
			})
		case t.From.IsActive() && !t.To.IsActive():
			if i, came := open[t.Rule]; came {
				out[i].Went = t.At
			}
		}
	}
	return out
}

// overlaps reports whether two alarms were there at the same time.
func (o Occurrence) overlaps(p Occurrence) bool {
	return (o.Went == 0 || p.Came <= o.Went) && (p.Went == 0 || o.Came <= p.Went)
}

// Pair is an alarm then and the same one now; nil where it did not come.
type Pair struct {
	Then *Occurrence `json:"then,omitempty"`
	Now  *Occurrence `json:"now,omitempty"`
}

// came is when the pair came first.
func (p Pair) came() capture.Instant {
	if p.Then != nil {
		return p.Then.Came
	}
	return p.Now.Came
}

// Pairs holds alarms against each other. Two are the same when they were there
// at the same time on one rail, and of one rule; where no rule of that name
// spoke, of one kind and channel.
func Pairs(then, now []Occurrence) []Pair {
	var out []Pair
	taken := make([]bool, len(now))
	partner := make([]int, len(then))
	for _, alike := range []func(a, b Occurrence) bool{
		func(a, b Occurrence) bool { return a.Rule == b.Rule },
		func(a, b Occurrence) bool { return a.Kind == b.Kind && a.Channel == b.Channel },
	} {
		for i, t := range then {
			for k, n := range now {
				if partner[i] == 0 && !taken[k] && t.Rail == n.Rail && alike(t, n) && t.overlaps(n) {
					partner[i], taken[k] = k+1, true
				}
			}
		}
	}
	for i := range then {
		p := Pair{Then: &then[i]}
		if k := partner[i]; k > 0 {
			p.Now = &now[k-1]
		}
		out = append(out, p)
	}
	for k := range now {
		if !taken[k] {
			out = append(out, Pair{Now: &now[k]})
		}
	}
	slices.SortStableFunc(out, func(a, b Pair) int { return int(min(1, max(-1, a.came()-b.came()))) })
	return out
}

// Comparison says what came then and what would have come with other rules.
type Comparison struct {
	Job     string                `json:"job"`
	Opened  capture.Instant       `json:"opened"`         // its first record
	End     capture.Instant       `json:"end"`            // up to where it was judged
	Engines []string              `json:"engines_then"`   // versions that judged, in order
	Engine  string                `json:"engine_now"`     //
	Alarms  []Pair                `json:"alarms"`         // in the order in which they came
	Then    *capture.SoakEvidence `json:"soak,omitempty"` // nil: no soak was begun
	Now     *capture.SoakEvidence `json:"soak_now,omitempty"`
}

// Compare judges a stored job with other rules, up to an instant as in
// [Replay], and holds what comes out against the alarms on record.
func Compare(ctx context.Context, source Source, upto capture.Instant, w WhatIf) (Comparison, error) {
	c := Comparison{Engine: Version}
	soaked := false
	other := &instead{Source: source, what: w}
	var err error
	other.alarm, err = Replay(ctx, func(yield func(capture.Record) error) error {
		return source.Records(ctx, 0, 0, func(rec capture.Record) error {
			soaked = c.survey(rec) || soaked
			if set, ok := rec.Item.(capture.RuleSet); ok {
				rec.Item = w.Set(set)
			}
			return yield(rec)
		})
	}, upto)
	if err != nil {
		return c, err
	}
	c.End = max(c.End, upto)
	then, err := source.Transitions(ctx)
	if err != nil {
		return c, err
	}
	c.Alarms = Pairs(Occurrences(then), Occurrences(other.alarm))
	if soaked {
		err = c.soaks(ctx, source, other)
	}
	return c, err
}

// survey notes what frames a record, and reports whether it begins a soak.
func (c *Comparison) survey(rec capture.Record) (soak bool) {
	if c.Opened == 0 {
		c.Job, c.Opened = rec.Job, rec.At
	}
	c.End = rec.At
	switch item := rec.Item.(type) {
	case capture.Sheet:
		c.Job = item.Job
	case capture.RuleSet:
		if !slices.Contains(c.Engines, item.Engine) {
			c.Engines = append(c.Engines, item.Engine)
		}
	case capture.Act:
		return item.Verb == capture.ActSoak && item.Text == "start"
	}
	return false
}

// soaks judges the last soak by both.
func (c *Comparison) soaks(ctx context.Context, source Source, other *instead) error {
	then, err := BuildDossier(ctx, source, Told{})
	if err != nil {
		return err
	}
	now, err := BuildDossier(ctx, other, Told{})
	c.Then, c.Now = then.Soak, now.Soak
	return err
}
