package rules

import (
	"context"
	"slices"
	"time"

	"steadyrail/capture"
)

// alarms groups the recorded transitions into stories and finds the readings
// about each.
func (b *builder) alarms(ctx context.Context, source Source) error {
	var err error
	if b.transitions, err = source.Transitions(ctx); err != nil {
		return err
	}
	for _, t := range b.transitions {
		i := slices.IndexFunc(b.out.Alarms, func(s capture.AlarmStory) bool { return s.Alarm == t.Alarm })
		if i < 0 {
			b.out.Alarms = append(b.out.Alarms, capture.AlarmStory{
				Alarm: t.Alarm, Rule: t.Rule, Kind: t.Kind, Rail: t.Rail, Severity: t.Severity, Raised: t.Raised, Say: t.Say, First: firstIn(t.Say),
			})
			i = len(b.out.Alarms) - 1
		}
		tell(&b.out.Alarms[i], t)
	}
	for i := range b.out.Alarms {
		if err := around(ctx, source, &b.out.Alarms[i]); err != nil {
			return err
		}
	}
	return nil
}

func tell(s *capture.AlarmStory, t capture.Transition) {
	s.Transitions = append(s.Transitions, t)
	switch {
	case t.To.IsActive() && !t.From.IsActive():
		s.Cleared = 0
	case !t.To.IsActive() && t.From.IsActive():
		s.Cleared = t.At
	case t.From == capture.Heard && t.To == capture.Active:
		s.Heard = 0 // told anew: what was heard of it was another story
	}
	if s.Heard == 0 && (t.To == capture.Heard || t.To == capture.LatchedHeard || t.From == capture.Returned && t.To == capture.Normal) {
		s.Heard = t.At
	}
}

// What an alarm's drawing shows: so long before and after, and no more points.
const (
	aroundSpan   = 10 * time.Second
	aroundPoints = 600
)

func around(ctx context.Context, source Source, s *capture.AlarmStory) error {
	ch := s.Transitions[0].Channel
	end := s.Raised.Add(aroundSpan)
	if s.Cleared != 0 {
		end = min(s.Cleared.Add(aroundSpan), s.Raised.Add(6*aroundSpan))
	}
	return source.Records(ctx, s.Raised.Add(-aroundSpan), end, func(rec capture.Record) error {
		if r, ok := rec.Item.(capture.Reading); ok && r.Channel == ch && len(s.Around) < aroundPoints {
			s.Around = append(s.Around, capture.Point2{At: rec.At, Value: r.Value, Good: r.Good()})
		}
		return nil
	})
}
