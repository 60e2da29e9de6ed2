package rules

import (
	"context"
	"fmt"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trim"
)

// Source is a job's record as a dossier is built from it; a job of
// capture/store is one. From and to of Records and Series are instants, 0 for
// the beginning and the end.
type Source interface {
	Records(ctx context.Context, from, to capture.Instant, yield func(capture.Record) error) error
	Transitions(ctx context.Context) ([]capture.Transition, error)
	Series(ctx context.Context, spans []capture.Span, q capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error)
	Head(ctx context.Context) (capture.Head, error)
}

// SoakSpan is a stretch of soak. To is 0 while it lasts.
type SoakSpan struct {
	From, To capture.Instant
	Planned  time.Duration // 0: open end
}

// Told is what others tell of the same record, for people: rules judge, they
// do not tell the job's story. Stages and soaks that are left out are taken
// from the record's acts.
type Told struct {
	Entries []capture.Entry
	Stages  []capture.StageSpan
	Soaks   []SoakSpan
}

// seriesPoints is how many buckets a rail's drawing gets.
const seriesPoints = 600

// BuildDossier computes everything a report prints from the record alone: the
// same record gives the same dossier. It reads the record twice, judging it
// again for the verdicts; alarms are the ones that were recorded.
func BuildDossier(ctx context.Context, source Source, told Told) (capture.Dossier, error) {
	b := &builder{told: told}
	for _, step := range []struct {
		doing string
		do    func(context.Context, Source) error
	}{
		{"read who, what and where", b.survey},
		{"read alarms", b.alarms},
		{"read readings", b.readings},
		{"read how rails fell", b.consequences},
		{"read charts", b.series},
		{"read the record's head", b.head},
	} {
		if err := step.do(ctx, source); err != nil {
			return capture.Dossier{}, fmt.Errorf("build dossier: %s: %w", step.doing, err)
		}
	}
	b.soak()
	b.heat()
	b.trimFindings()
	b.standIns()
	b.out.NotChecked = append(standing(b.out), b.out.Sheet.NotChecked...)
	return b.out, nil
}

// builder gathers a dossier.
type builder struct {
	told        Told
	out         capture.Dossier
	places      capture.Placements
	corrections map[capture.Instant]capture.Placement // by the placement that they mend
	transitions []capture.Transition
	watched     SoakSpan // what the watches cover: the last soak, else the warm-up
	soaks       []SoakSpan
	steps       []toldStep // of the plan of a soak, that are done
	stages      []capture.StageSpan
	points      []capture.Span         // of out.Points, one for each
	idle        idling                 // when no rule could be armed
	outages     outages                // trips of supplies
	bounds      map[fallKey]fallBounds // found before; nil: none are kept
	follows     []*outage              // by the index of a transition: what a fall follows from; nil: from no trip
	trims       trim.Fold              // what presetting and trimming did
	falls       []fall                 // of clipped rails in the watched span, alarm or none
	clipped     []capture.Gap          // when a clip on a rail gave readings, within the watched span
}

// survey folds everything but the readings.
func (b *builder) survey(ctx context.Context, source Source) error {
	b.corrections = map[capture.Instant]capture.Placement{}
	err := source.Records(ctx, 0, 0, func(rec capture.Record) error {
		if b.out.From == 0 {
			b.out.From = rec.At
		}
		b.out.To = rec.At
		b.idle.take(rec)
		b.outages.take(rec)
		b.trimmed(rec)
		switch item := rec.Item.(type) {
		case capture.Sheet:
			b.out.Sheet = item
		case capture.Roster:
			b.out.Roster = merged(b.out.Roster, item)
		case capture.RuleSet:
			b.out.Rules = item
		case capture.Gap:
			b.out.Gaps = append(b.out.Gaps, item)
		case capture.Act:
			b.act(rec.At, item)
			b.judgedStandIn(rec.At, item)
		case capture.Placement:
			if b.places.Apply(rec.At, item) == nil && item.Corrects != 0 {
				b.corrections[item.Corrects] = item
			}
		}
		return nil
	})
	b.settleSpans()
	return err
}

// merged keeps instruments that served the job once and are gone from the
// newest roster, for their readings are still evidence.
func merged(old, now capture.Roster) capture.Roster {
	out := capture.Roster{Instruments: slices.Clone(now.Instruments)}
	for _, in := range old.Instruments {
		if _, there := now.Instrument(in.Name); !there {
			out.Instruments = append(out.Instruments, in)
		}
	}
	return out
}

func (b *builder) act(at capture.Instant, act capture.Act) {
	switch {
	case act.Verb == capture.ActStage:
		if n := len(b.stages); n > 0 {
			b.stages[n-1].To = at
		}
		b.stages = append(b.stages, capture.StageSpan{Stage: act.Stage, From: at, Reason: act.Text})
	case act.Verb == capture.ActSoak && act.Text == "start":
		b.soaks = append(b.soaks, SoakSpan{From: at, Planned: time.Duration(float64(act.Value * float64(time.Second)))})
	case act.Verb == capture.ActSoakStep:
		b.step(at, act)
	case act.Verb == capture.ActSoak, act.Verb == capture.ActClose:
		if n := len(b.soaks); n > 0 && b.soaks[n-1].To == 0 {
			b.soaks[n-1].To = at
		}
	}
}

// settleSpans decides which stretch the watches cover.
func (b *builder) settleSpans() {
	if b.told.Stages != nil {
		b.stages = b.told.Stages
	}
	if b.told.Soaks != nil {
		b.soaks = b.told.Soaks
	}
	b.out.Stages, b.out.Entries = b.stages, b.told.Entries
	switch {
	case len(b.soaks) > 0:
		b.watched = b.soaks[len(b.soaks)-1]
	default:
		for _, s := range b.stages {
			if s.Stage == capture.WarmUp {
				b.watched = SoakSpan{From: s.From, To: s.To}
			}
		}
	}
	if b.watched.From != 0 && b.watched.To == 0 {
		b.watched.To = b.out.To
	}
}

func (b *builder) head(ctx context.Context, source Source) (err error) {
	b.out.Head, err = source.Head(ctx)
	return err
}

// series draws each rail over the watched span, or over all when there is none,
// and what else was watched then.
func (b *builder) series(ctx context.Context, source Source) error {
	from, to := b.watched.From, b.watched.To
	if from == 0 {
		from, to = b.out.From, b.out.To
	}
	for i := range b.out.Rails {
		r := &b.out.Rails[i]
		spans := b.spans(r.Rail.Name, capture.DCVoltage)
		if len(spans) == 0 || to <= from {
			continue
		}
		var err error
		if r.Series, err = source.Series(ctx, spans, capture.DCVoltage, from, to+1, seriesPoints); err != nil {
			return err
		}
	}
	for i, span := range b.points {
		info, _ := b.out.Roster.Channel(span.Channel)
		var err error
		if b.out.Points[i].Series, err = source.Series(ctx, []capture.Span{span}, info.Quantity, from, to+1, seriesPoints); err != nil {
			return err
		}
	}
	return nil
}

// spans lists when a rail was measured by channels that may be evidence.
func (b *builder) spans(rail string, q capture.Quantity) []capture.Span {
	return slices.DeleteFunc(b.places.Spans(rail), func(s capture.Span) bool {
		info, known := b.out.Roster.Channel(s.Channel)
		return !known || info.Quantity != q || info.Setpoint
	})
}

// standing is what no job of this bench checks, and what this one did not.
func standing(d capture.Dossier) []string {
	out := []string{
		"Loop stability (response to a load step, phase margin): not checked",
		captured(d, "rise", "Start-up shape (overshoot, monotony, order of the rails): not checked", "Start-up shape: of the stand-in by a capture, see there; order of the rails: not checked"),
		"Interference, radiated and conducted: not checked",
		captured(d, "ripple seen", "Ripple and noise: not checked, no channel declares a bandwidth", "Ripple and noise: of the stand-in by a capture, see there; elsewhere not checked"),
		"Safety tests after repair: not part of this record; they are done with a tester and entered by hand",
	}
	for _, r := range d.Rails {
		if len(r.After) == 0 {
			out = append(out, r.Rail.Name+" under load: not checked")
		}
	}
	if d.Soak == nil {
		out = append(out, "Soak: none was done")
	}
	return out
}
