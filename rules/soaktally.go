package rules

import (
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
)

// SoakTally follows what the failures of a soak rest on besides its alarms, so that
// they can be counted while it lasts: see [SoakCount]. It is not safe for concurrent
// use; its zero value is ready.
type SoakTally struct {
	sheet   capture.Sheet
	rules   capture.RuleSet
	outages outages
	news    uint64 // grows with all that may change the count
}

// Consume takes the next record of the job.
func (s *SoakTally) Consume(rec capture.Record) {
	s.outages.take(rec)
	switch it := rec.Item.(type) {
	case capture.Reading, capture.Tick:
		return
	case capture.Sheet:
		s.sheet = it
	case capture.RuleSet:
		s.rules = it
	}
	s.news++
}

// Fell hears that an alarm of the job came or went.
func (s *SoakTally) Fell() { s.news++ }

// Clone returns a tally that later records do not reach.
func (s *SoakTally) Clone() SoakTally {
	out := *s
	out.outages.list = slices.Clone(s.outages.list)
	out.outages.up, out.outages.reads, out.outages.seen = maps.Clone(s.outages.up), maps.Clone(s.outages.reads), maps.Clone(s.outages.seen)
	out.outages.doubts.on = slices.Clone(s.outages.doubts.on)
	return out
}

// SoakCount counts the failures of a soak as the dossier of the record so far has
// them, by the same computation: the alarms of it, the falls that follow from one
// trip of a supply as one, and what had fallen before it and stayed down. Alone what
// no alarm tells of is left to the dossier, for it asks for every reading. It keeps
// what it found in the record, so that each stretch is read once. It is not safe for
// concurrent use; its zero value is ready.
type SoakCount struct {
	bounds map[fallKey]fallBounds
	of     capture.Instant // the soak's begin
	to     capture.Instant
	news   uint64
	n      int
	known  bool
}

// Count counts from the soak's begin to its end, 0 while it lasts. All that the tally
// heard of must be in the source.
func (c *SoakCount) Count(ctx context.Context, source Source, t SoakTally, from, to capture.Instant) (int, error) {
	if to == 0 {
		to = math.MaxInt64
	}
	if c.known && c.of == from && c.to == to && c.news == t.news {
		return c.n, nil
	}
	if c.of != from || c.bounds == nil {
		c.bounds = map[fallKey]fallBounds{}
	}
	c.of, c.to, c.news, c.known = from, to, t.news, false
	all, err := source.Transitions(ctx)
	if err != nil {
		return 0, err
	}
	b := &builder{outages: t.outages, bounds: c.bounds, watched: SoakSpan{From: from, To: to}}
	b.out.Sheet, b.out.Rules = t.sheet, t.rules
	b.falls = stayedDown(t.sheet, all, from, to)
	before := func(at capture.Instant) bool { return at < from.Add(-holdUp-time.Minute) }
	b.transitions = slices.DeleteFunc(slices.Clone(all), func(t capture.Transition) bool { return before(t.At) })
	b.outages.list = slices.DeleteFunc(b.outages.list, func(o outage) bool { return before(o.found) })
	if err := b.consequences(ctx, source); err != nil {
		return 0, err
	}
	s := &capture.SoakEvidence{From: from, To: to}
	c.n, c.known = len(b.failures(s))+len(b.unalarmed(s)), true
	return c.n, nil
}

// stayedDown lists the rails that an alarm had told of before a soak began and that
// were not back then.
func stayedDown(sheet capture.Sheet, all []capture.Transition, from, to capture.Instant) (out []fall) {
	down := map[string]bool{} // by alarm; looked up, never ranged over
	for _, t := range all {
		if t.At < from && capture.Fell(t.Kind) {
			down[t.Alarm] = t.To.IsActive()
		}
	}
	for _, r := range sheet.Rails {
		if slices.ContainsFunc(all, func(t capture.Transition) bool { return t.Rail == r.Name && down[t.Alarm] }) {
			out = append(out, fall{rail: r, from: from, to: to})
		}
	}
	return out
}
