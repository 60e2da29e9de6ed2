package rules

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

// soak says what the last soak lasted and what it proves.
func (b *builder) soak() {
	if len(b.soaks) == 0 {
		return
	}
	s := &capture.SoakEvidence{From: b.watched.From, To: b.watched.To, Planned: b.watched.Planned}
	blind := b.blind()
	s.Watched, s.Pieces = s.To.Sub(s.From), 1
	s.Parts = parts(s, slices.DeleteFunc(slices.Clone(blind), b.asPlanned))
	s.Off = b.restAsPlanned(s.Parts, blind)
	for _, g := range blind {
		s.Watched -= g.To.Sub(g.From)
		if g.From > s.From && g.To < s.To && !b.asPlanned(g) {
			s.Pieces++
		}
	}
	var watches []capture.Watch
	for _, r := range b.out.Rails {
		watches = append(watches, r.Watches...)
	}
	if len(watches) == 0 {
		s.Watched, s.Parts, s.Off = 0, nil, 0
	}
	failed := b.failures(s)
	unseen := b.unalarmed(s)
	s.Failures = len(failed) + len(unseen)
	s.Passed = s.Failures == 0 && len(b.falls) == 0 && b.held() && s.Pieces == 1 && s.Watched > 0 && s.Watched >= s.Planned
	s.Say = b.soakSays(s, failed, unseen, watches)
	b.out.Soak = s
}

// asPlanned reports whether a blind stretch is that the plan of the soak had power
// off, and the moment in which it comes up again. A hole in the record is none of
// it.
func (b *builder) asPlanned(g capture.Gap) bool {
	if slices.ContainsFunc(b.out.Gaps, func(hole capture.Gap) bool { return hole.From < g.To && hole.To > g.From }) {
		return false
	}
	for _, off := range b.idle.gaps(b.watched.To) {
		if off.Reason == planOff && off.From <= g.From && off.To > g.From && off.To.Add(comesUp) >= g.To {
			return true
		}
	}
	return false
}

// restAsPlanned takes out of the parts of a soak what its plan had off, so that
// they come to what was watched, and says how long that was in all.
func (b *builder) restAsPlanned(parts []capture.SoakPart, blind []capture.Gap) (all time.Duration) {
	for _, g := range blind {
		if !b.asPlanned(g) {
			continue
		}
		all += g.To.Sub(g.From)
		for i, p := range parts {
			if p.From <= g.From && g.From < p.To {
				parts[i].Idle += g.To.Sub(g.From)
			}
		}
	}
	return all
}

// comesUp is how long after power is back a rail may still be unread.
const comesUp = 10 * time.Second

// blind lists the stretches of the soak in which not everything was watched,
// joined and in order: what the record says of itself, silent channels, and
// where no clip gave readings of any rail.
func (b *builder) blind() []capture.Gap {
	list := append(b.unclipped(), b.out.Gaps...)
	list = append(list, b.idle.gaps(b.watched.To)...)
	since := map[string]capture.Instant{}
	for _, t := range b.transitions {
		if t.Kind != "silent" || t.To.IsActive() == t.From.IsActive() {
			continue
		}
		if t.To.IsActive() {
			since[t.Rule] = t.At
			if len(t.Evidence) > 0 {
				since[t.Rule] = t.Evidence[0] // the last good reading
			}
			continue
		}
		list = append(list, capture.Gap{From: since[t.Rule], To: t.At, Reason: t.Say})
		delete(since, t.Rule)
	}
	for _, t := range b.transitions { // in order of the record, not of the map
		if from, open := since[t.Rule]; open {
			list = append(list, capture.Gap{From: from, To: b.watched.To, Reason: t.Say})
			delete(since, t.Rule)
		}
	}
	return joined(list, b.watched.From, b.watched.To)
}

// unclipped lists the stretches of the soak in which no rail had a clip that
// gave readings: no alarm could come then, so that none came proves nothing.
func (b *builder) unclipped() (out []capture.Gap) {
	slices.SortStableFunc(b.clipped, func(a, c capture.Gap) int { return cmp.Compare(a.From, c.From) })
	from := b.watched.From
	for _, c := range b.clipped {
		out = append(out, capture.Gap{From: from, To: c.From})
		from = max(from, c.To)
	}
	return append(out, capture.Gap{From: from, To: b.watched.To})
}

// joined cuts gaps to a span and joins those that overlap.
func joined(list []capture.Gap, from, to capture.Instant) []capture.Gap {
	slices.SortStableFunc(list, func(a, b capture.Gap) int { return int(min(1, max(-1, a.From-b.From))) })
	var out []capture.Gap
	for _, g := range list {
		g.From, g.To = max(g.From, from), min(g.To, to)
		if g.To <= g.From {
			continue
		}
		if n := len(out); n > 0 && g.From <= out[n-1].To {
			out[n-1].To = max(out[n-1].To, g.To)
			continue
		}
		out = append(out, g)
	}
	return out
}

// failures lists the falls of rails in the soak: each coming of an alarm that
// says that a rail was not as it should be, and that no other explains. Those that
// follow from one trip of a supply are one.
func (b *builder) failures(s *capture.SoakEvidence) []capture.Transition {
	var failed []int
	for i, t := range b.transitions {
		if t.At >= s.From && t.At <= s.To && fellNow(t) && !b.explained(t) {
			failed = append(failed, i)
		}
	}
	return b.one(failed)
}

// explained reports whether another alarm was the cause, as the record says. A
// mute by a person or for chatter explains nothing.
func (b *builder) explained(t capture.Transition) bool {
	for _, o := range b.transitions {
		same := o.Alarm == t.Alarm && (o.At == t.At || o.From == o.To && o.At >= t.At && o.At.Sub(t.At) <= 2*together)
		if same && isCause(o.Muted) {
			return true
		}
	}
	return false
}

func (b *builder) soakSays(s *capture.SoakEvidence, failed []capture.Transition, unseen []fall, watches []capture.Watch) []string {
	out := []string{soakLasted(s) + "."}
	if s.Watched <= 0 {
		out = append(out, "Not judged: "+b.whyIdle(s)+".")
	}
	for _, f := range unseen {
		out = append(out, f.say(s.From))
	}
	switch {
	case len(failed) == 0 && (s.Watched <= 0 || len(b.falls) > 0): // that no rail failed would be a claim
	case len(failed) == 0:
		out = append(out, "No rail failed.")
	case len(failed) == 1:
		out = append(out, "One failure: "+failed[0].Say+".")
	default:
		out = append(out, fmt.Sprintf("%d failures, the first: %s.", len(failed), failed[0].Say))
	}
	out = append(out, orders(failed[min(1, len(failed)):])...) // the first was quoted in full
	out = append(out, coverage.Proof(s.Failures, s.Watched))
	out = append(out, missable(watches)...)
	out = append(out, b.levels()...)
	out = append(out, b.stepsSay(s)...)
	if len(b.soaks) > 1 {
		out = append(out, fmt.Sprintf("It was the last of %d soaks; the earlier ones count as trials of their own.", len(b.soaks)))
	}
	return out
}

func worstDip(watches []capture.Watch) (d time.Duration) {
	for _, w := range watches {
		d = max(d, w.SureDip)
	}
	return d
}
