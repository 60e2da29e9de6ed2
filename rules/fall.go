package rules

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/kind"
)

// idling gathers when no rule could be armed: the stage was not live, or an
// output was switched off. No alarm could come then.
type idling struct {
	stage capture.Stage
	off   []string
	plan  []string // of these, what the plan of the soak switched off
	list  []capture.Gap
	since capture.Instant
	why   string // empty: rules may be armed
}

// outputOff is the reason of a stretch in which a person had an output off.
const outputOff = "an output was switched off"

// planOff is the reason of a stretch in which power was off because the plan of the
// soak wanted it: it is no hole in the soak, and no time under power either.
const planOff = "its plan had switched it off"

func (i *idling) take(rec capture.Record) {
	act, _ := rec.Item.(capture.Act)
	switch act.Verb {
	case capture.ActStage:
		i.stage = act.Stage
	case capture.ActOutput:
		i.off = slices.DeleteFunc(i.off, func(s string) bool { return concerns(act, s) })
		i.plan = slices.DeleteFunc(i.plan, func(s string) bool { return concerns(act, s) })
		if act.Text == "off" || act.Text == capture.SwitchingOff {
			i.off = append(i.off, act.Subject)
			if act.By == capture.ByPlan {
				i.plan = append(i.plan, act.Subject)
			}
		}
	}
	why := ""
	switch {
	case i.stage == "":
		why = "no stage was begun"
	case !i.stage.Live():
		why = "the stage was " + string(i.stage)
	case len(i.off) > 0 && len(i.plan) == len(i.off):
		why = planOff
	case len(i.off) > 0:
		why = outputOff
	}
	if why != i.why {
		i.list = i.gaps(rec.At)
		i.since, i.why = rec.At, why
	}
}

// gaps lists the stretches up to an instant.
func (i *idling) gaps(to capture.Instant) []capture.Gap {
	if i.why == "" {
		return i.list
	}
	return append(slices.Clone(i.list), capture.Gap{From: i.since, To: to, Reason: i.why})
}

// whyIdle says why nothing of a soak was watched.
func (b *builder) whyIdle(s *capture.SoakEvidence) string {
	var why []string
	for _, g := range b.idle.gaps(s.To) {
		if g.From < s.To && g.To > s.From && !slices.Contains(why, g.Reason) {
			why = append(why, g.Reason)
		}
	}
	if len(why) == 0 {
		return "no clipped probe gave a reading of a rail"
	}
	return strings.Join(why, ", then ") + ", so no alarm could come"
}

// fall is a stretch in which a clipped rail was not as it should be, whether or
// not there was an alarm.
type fall struct {
	rail       capture.Rail
	from, to   capture.Instant // first reading outside, first inside after
	worst      float64
	resolution float64
	deep       bool // below the collapse limit
}

func (f fall) say(begin capture.Instant) string {
	return fmt.Sprintf("%s left its band without an alarm, %s into the soak: to %s, for %s.", f.rail.Name,
		coverage.Long(max(0, f.from.Sub(begin))), capture.Volt.Text(f.worst, f.resolution), coverage.Long(f.to.Sub(f.from)))
}

// faller finds the falls in the readings of one clip.
type faller struct {
	rail  capture.Rail
	delay time.Duration
	limit float64
	idle  []capture.Gap
	was   bool            // in band once
	offAt capture.Instant // the newest reading while an output was off
	now   fall            // from 0: inside
	out   []fall
}

func (b *builder) faller(r capture.Rail) *faller {
	f := &faller{rail: r, delay: kind.BandOnDelay, limit: kind.CollapseLimit(capture.Rule{}, r), idle: b.idle.gaps(b.watched.To)}
	for _, rule := range b.out.Rules.Rules {
		switch {
		case rule.Rail != r.Name:
		case rule.Kind == "band":
			f.delay = rule.OnDelay
		case rule.Kind == "collapse":
			f.limit = kind.CollapseLimit(rule, r)
		}
	}
	return f
}

// switchedOff reports whether an output was off: a person wanted the fall.
func (f *faller) switchedOff(at capture.Instant) bool {
	off := slices.ContainsFunc(f.idle, func(g capture.Gap) bool {
		return (g.Reason == outputOff || g.Reason == planOff) && at >= g.From && at < g.To
	})
	if off {
		f.offAt = at
	}
	return off
}

// rises reports whether power is back and the rail only has to come up, for which
// it has a moment.
func (f *faller) rises(at capture.Instant) bool {
	return !f.was && f.offAt != 0 && at.Sub(f.offAt) <= comesUp
}

func (f *faller) read(at capture.Instant, r capture.Reading) {
	if f == nil || !r.Good() || f.rail.Bounds.Low >= f.rail.Bounds.High {
		return
	}
	switch inside := f.rail.Bounds.Contains(r.Value); {
	case inside || f.switchedOff(at) || f.rises(at):
		f.end(at)
		f.was = inside
		return
	case f.now.from == 0:
		f.now = fall{rail: f.rail, from: at, worst: r.Value, resolution: r.Resolution}
	case f.beyond(r.Value) > f.beyond(f.now.worst):
		f.now.worst = r.Value
	}
	f.now.deep = f.now.deep || f.was && f.rail.Sized(r.Value).Value < f.limit
}

func (f *faller) beyond(v float64) float64 {
	return max(f.rail.Bounds.Low-v, v-f.rail.Bounds.High)
}

func (f *faller) end(at capture.Instant) {
	f.now.to = at
	if f.now.from != 0 && (f.now.deep || at.Sub(f.now.from) > f.delay) {
		f.out = append(f.out, f.now)
	}
	f.now = fall{}
}

func (f *faller) done(at capture.Instant) []fall {
	if f == nil {
		return nil
	}
	f.end(at)
	return f.out
}

// unalarmed lists the falls of rails that no alarm of the soak tells of.
func (b *builder) unalarmed(s *capture.SoakEvidence) (out []fall) {
	for _, f := range b.falls {
		told := slices.ContainsFunc(b.transitions, func(t capture.Transition) bool {
			return t.Rail == f.rail.Name && capture.Fell(t.Kind) && t.At >= s.From && t.At <= s.To && t.To.IsActive()
		})
		if !told && !b.carriedBy(f) {
			out = append(out, f)
		}
	}
	return out
}
