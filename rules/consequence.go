package rules

import (
	"context"
	"slices"
	"time"

	"steadyrail/capture"
)

// consequences finds the alarms that are the consequence of a supply's trip, and
// says so in their stories. Such an alarm is a fall of a rail that may hang on the
// output ([outages.carries]). Its readings bound when it fell: after the last
// inside the band, before the first below it, both widened by what is not known of
// their instants. It follows from the trip when that stretch and the trip's can be
// one moment: no reading shows it fallen while the output was surely still on, and
// none shows it in its band longer than [holdUp] after the output was found off, or
// after somebody switched it. A rail that came back before the output was found off
// had dipped by itself: what a supply that is off feeds does not come back.
func (b *builder) consequences(ctx context.Context, source Source) error {
	b.follows = make([]*outage, len(b.transitions))
	for i := range b.outages.list {
		out := &b.outages.list[i]
		if out.alarm = b.alarmOf(out); out.alarm == "" {
			continue
		}
		for j, t := range b.transitions {
			if b.follows[j] != nil || !out.near(t.At) || !fellNow(t) {
				continue
			}
			rail, on := b.out.Sheet.Rail(t.Rail)
			if !on || !b.outages.carries(out, b.out.Sheet, rail) {
				continue
			}
			fell, err := b.fellWithin(ctx, source, rail, t, out.found)
			if err != nil {
				return err
			}
			if out.covers(fell.from, fell.to) {
				b.follows[j] = out
				out.carry(t.Rail)
			}
		}
	}
	b.tellFollowed()
	return nil
}

// tellFollowed says in the stories of alarms what they follow from: an alarm that
// came more than once does when each coming does.
func (b *builder) tellFollowed() {
	for i := range b.out.Alarms {
		s := &b.out.Alarms[i]
		for j, t := range b.transitions {
			if t.Alarm != s.Alarm || !fellNow(t) {
				continue
			}
			if b.follows[j] == nil {
				s.Follows = ""
				break
			}
			s.Follows = b.follows[j].alarm
		}
	}
}

// fellNow reports whether an alarm comes that tells that a rail is not as it should
// be.
func fellNow(t capture.Transition) bool {
	return capture.Fell(t.Kind) && t.To.IsActive() && !t.From.IsActive()
}

// outputEvidence is a verdict of an output, with the rails that hung on it when it was
// found off last. It rests on no channel: its rule only stands on a rail.
func (b *builder) outputEvidence(output string, v capture.Verdict) capture.OutputEvidence {
	v.Rail, v.Channel = "", ""
	ev := capture.OutputEvidence{Output: output, Verdict: v, Rails: []string{}}
	for i := len(b.outages.list) - 1; i >= 0 && len(ev.Rails) == 0; i-- {
		if out := &b.outages.list[i]; out.output == output {
			ev.Rails = b.hangOn(out)
		}
	}
	return ev
}

// hangOn lists the rails of the sheet that may hang on the output of an outage.
func (b *builder) hangOn(out *outage) []string {
	rails := []string{}
	for _, r := range b.out.Sheet.Rails {
		if b.outages.carries(out, b.out.Sheet, r) {
			rails = append(rails, r.Name)
		}
	}
	return rails
}

// alarmOf returns the alarm that tells of an outage: empty when there is none.
func (b *builder) alarmOf(out *outage) string {
	for _, t := range b.transitions {
		if t.At != out.found || t.Kind != "found off" || !t.To.IsActive() {
			continue
		}
		if rule, _ := b.rule(t.Rule); rule.Against == out.output {
			return t.Alarm
		}
	}
	return ""
}

// one puts the trip of a supply in the place of the falls that follow from it: it
// is one failure, told with what fell at the same time.
func (b *builder) one(failed []int) (out []capture.Transition) {
	var told []*outage
	for _, i := range failed {
		of := b.follows[i]
		if of == nil {
			out = append(out, b.transitions[i])
			continue
		}
		if slices.Contains(told, of) {
			continue
		}
		told = append(told, of)
		trip := b.transitions[slices.IndexFunc(b.transitions, func(t capture.Transition) bool { return t.Alarm == of.alarm && t.At == of.found })]
		trip.Say += "; " + capture.Listed(b.inOrder(of.carried)) + " fell at the same time"
		out = append(out, trip)
	}
	return out
}

// inOrder puts rails in the order of the sheet: that in which they were read is not
// that in which they fell.
func (b *builder) inOrder(rails []string) (out []string) {
	for _, r := range b.out.Sheet.Rails {
		if slices.Contains(rails, r.Name) {
			out = append(out, r.Name)
		}
	}
	return out
}

// carriedBy reports whether a fall that no alarm tells of follows from a supply's
// trip that some alarm tells of: the trip is told, and it with it.
func (b *builder) carriedBy(f fall) bool {
	for i := range b.outages.list {
		out := &b.outages.list[i]
		if len(out.carried) > 0 && b.outages.carries(out, b.out.Sheet, f.rail) && f.to > out.found && out.covers(f.from, f.from) {
			return true
		}
	}
	return false
}

func (b *builder) rule(name string) (capture.Rule, bool) {
	for _, r := range b.out.Rules.Rules {
		if r.Name == name {
			return r, true
		}
	}
	return capture.Rule{}, false
}

// near reports whether an alarm that came then is worth a look at its readings: the
// delay of its rule is well below a minute.
func (out *outage) near(came capture.Instant) bool {
	return came >= out.from && came.Sub(out.found) <= holdUp+time.Minute
}

// covers reports whether a fall within a stretch can be of the outage's moment, or
// after it. A stretch without a beginning is no fall that anybody saw.
func (out *outage) covers(from, to capture.Instant) bool {
	return from != 0 && to >= out.from && from.Sub(out.found) <= holdUp && (out.to == 0 || from <= out.to)
}

func (out *outage) carry(rail string) {
	if !slices.Contains(out.carried, rail) {
		out.carried = append(out.carried, rail)
	}
}

// fallBounds is within what a rail left its band downwards; from 0: nobody saw it.
type fallBounds struct{ from, to capture.Instant }

// fallKey is all that the bounds of a fall hang on in a record that is only added to.
type fallKey struct {
	alarm     string
	at, found capture.Instant
	channel   capture.ChannelID
	band      capture.Bounds
}

// fellWithin is [fellWithin], and keeps what it found where the builder has a place
// for it.
func (b *builder) fellWithin(ctx context.Context, source Source, rail capture.Rail, t capture.Transition, found capture.Instant) (fallBounds, error) {
	key := fallKey{t.Alarm, t.At, found, t.Channel, rail.Bounds}
	if known, is := b.bounds[key]; is {
		return known, nil
	}
	fell, err := fellWithin(ctx, source, rail, t, found)
	if err == nil && b.bounds != nil {
		b.bounds[key] = fell
	}
	return fell, err
}

// fellWithin returns within what stretch a rail left its band downwards before an
// alarm came; from 0 when no reading shows it, or when the rail was back before its
// supply was found off.
func fellWithin(ctx context.Context, source Source, rail capture.Rail, t capture.Transition, found capture.Instant) (fell fallBounds, err error) {
	first := t.At
	if len(t.Evidence) > 0 {
		first = min(first, t.Evidence[0])
	}
	var in capture.Instant // earliest instant of the newest reading in the band
	back := false
	err = source.Records(ctx, first.Add(-aroundSpan), max(t.At, found)+1, func(rec capture.Record) error {
		r, is := rec.Item.(capture.Reading)
		if !is || r.Channel != t.Channel || !r.Good() {
			return nil
		}
		switch sized := rail.Sized(r.Value); {
		case rail.Bounds.Contains(r.Value):
			in, fell = r.Sampled(rec.At).Add(-r.HalfWidth), fallBounds{}
			back = back || rec.At > t.At
		case fell.to == 0 && sized.Value < sized.Bounds.Low:
			fell = fallBounds{in, r.Sampled(rec.At).Add(r.HalfWidth)}
		}
		return nil
	})
	if back { // what fell since is another fall
		return fallBounds{}, err
	}
	return fell, err
}
