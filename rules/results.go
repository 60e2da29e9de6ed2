package rules

import (
	"context"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
)

// readings walks the readings once: through an engine for the verdicts, and
// through the watches and means of the watched span.
func (b *builder) readings(ctx context.Context, source Source) error {
	w := &walker{b: b, engine: New("")}
	for _, r := range b.out.Sheet.Rails {
		w.rails = append(w.rails, &railWalk{rail: r, last: map[string]capture.Verdict{}})
	}
	w.watchAll()
	f := feeder{take: w.judge}
	err := source.Records(ctx, 0, 0, func(rec capture.Record) error {
		if p, ok := rec.Item.(capture.Placement); ok {
			if p.Corrects != 0 {
				return nil // said already where it was mended
			}
			if mended, is := b.corrections[rec.At]; is {
				mended.Corrects = 0
				rec.Item = mended
			}
		}
		// First the ticks before the record: they belong to the stage before it.
		if err := f.feed(ctx, rec); err != nil {
			return err
		}
		w.measure(rec)
		return nil
	})
	if err != nil {
		return err
	}
	w.finish()
	return nil
}

// walker is the state of one walk.
type walker struct {
	b       *builder
	engine  *Engine
	stage   capture.Stage
	rails   []*railWalk
	watches []*watchWalk
	ways    capture.Polarities
}

// railWalk gathers what is said of a rail.
type railWalk struct {
	rail   capture.Rail
	last   map[string]capture.Verdict // newest with data, by rule
	before []contact                  // first cold ohms, first live volts
	after  []contact                  // last cold ohms
	back   contact                    // first cold ohms with the leads exchanged
	dead   *capture.Result            // newest volts without power; nil: none
	load   [3]tail                    // last minute of each of loads
}

// watchWalk is one channel on one rail, or on one point, within the watched
// span.
type watchWalk struct {
	span     capture.Span
	from, to capture.Instant
	build    *coverage.Builder
	fell     *faller // of a clip on a rail
	means    *means  // of a clip on a rail in a soak
	survey   *survey // of a clip on a rail
}

// watchAll prepares a watch for each stretch of a channel on a rail or point.
func (w *walker) watchAll() {
	span := w.b.watched
	if span.From == 0 {
		return
	}
	names := []string{""}
	for _, r := range w.rails {
		names = append(names, r.rail.Name)
	}
	for _, name := range names {
		for _, s := range w.b.places.Spans(name) {
			info, known := w.b.out.Roster.Channel(s.Channel)
			if !known || name != "" && (info.Quantity != capture.DCVoltage || info.Setpoint) || name == "" && s.Point == "" {
				continue
			}
			from, to := max(s.From, span.From), span.To
			if s.To != 0 {
				to = min(to, s.To)
			}
			if from < to {
				o := coverage.Options{Aperture: info.Aperture, Every: info.Every, Statistics: &trend.Moments{}}
				if name != "" {
					o.Bounds = w.rail(name).rail.Bounds
				}
				x := &watchWalk{span: s, from: from, to: to, build: coverage.New(s.Channel, from, o)}
				if s.Hold == capture.Clipped && name != "" {
					x.fell = w.b.faller(w.rail(name).rail)
					x.survey = &survey{off: x.fell.switchedOff, falls: w.b.fallsOf(name), tell: trend.NewSurvey()}
					if len(w.b.soaks) > 0 {
						x.means = &means{info: info, rail: w.rail(name).rail, place: s.Placement, off: x.fell.switchedOff, falls: w.b.fallsOf(name)}
					}
				}
				w.watches = append(w.watches, x)
			}
		}
	}
}

// measure takes what is measured, without judging it.
func (w *walker) measure(rec capture.Record) {
	switch item := rec.Item.(type) {
	case capture.Act:
		if item.Verb == capture.ActStage {
			w.stage = item.Stage
		}
	case capture.Gap:
		for _, x := range w.watches {
			if item.From < x.to && item.To > x.from {
				x.build.Blind(max(item.From, x.from), min(item.To, x.to))
			}
		}
	case capture.Reading:
		for _, x := range w.watches {
			if x.span.Channel == item.Channel && rec.At >= x.from && rec.At <= x.to {
				x.tally(rec.At, item)
				x.fell.read(rec.At, item)
				x.means.read(rec.At, item)
				x.survey.read(rec.At, &item)
			}
		}
		w.underLoad(rec.At, item)
		w.dead(rec.At, &item)
	}
}

// tally counts a reading: among the figures of the rail, unless it was off because
// somebody wanted it off, or only comes up from that.
func (x *watchWalk) tally(at capture.Instant, r capture.Reading) {
	if f := x.fell; f != nil && (f.switchedOff(at) || f.rises(at) && !f.rail.Bounds.Contains(r.Value)) {
		x.build.Idle(at, r)
		return
	}
	x.build.Add(at, r)
}

func (w *walker) rail(name string) *railWalk {
	for _, r := range w.rails {
		if r.rail.Name == name {
			return r
		}
	}
	return nil
}

// judge takes verdicts from the engine.
func (w *walker) judge(rec capture.Record) {
	if act, ok := rec.Item.(capture.Act); ok {
		w.ways.Take(act)
	}
	for _, v := range w.engine.Consume(rec).Verdicts {
		rail := w.rail(v.Rail)
		back := v.Kind == "short" && w.ways.Reversed(v.Channel)
		if rail != nil && v.Kind == "short" && !back && v.Outcome == capture.NoData && v.N > 0 && w.stage.Cold() {
			w.unjudged(rail, v)
		}
		if rail == nil {
			continue
		}
		if rail.stands(v); v.Outcome == capture.NoData {
			continue
		}
		switch {
		case back && w.stage.Cold():
			w.backwards(rail, v)
		case v.Kind == "short" && w.stage.Cold():
			w.found(rail, capture.Resistance, v)
		case v.Kind == "short" && !back:
			w.later(rail, v)
		case v.Kind == "band" && w.stage == capture.LiveChecks:
			w.found(rail, capture.DCVoltage, v)
		}
	}
}

// finish writes everything into the dossier.
func (w *walker) finish() {
	for _, r := range w.rails {
		ev := capture.RailEvidence{Rail: r.rail, Reversed: r.backwards(), Dead: r.dead}
		for _, c := range r.before {
			ev.Before = append(ev.Before, c.result)
		}
		for _, c := range r.after {
			ev.After = append(ev.After, c.result)
		}
		if res, any := w.loaded(r); any {
			ev.After = append(ev.After, res)
		}
		for _, rule := range w.b.out.Rules.Rules {
			v, any := r.last[rule.Name]
			switch {
			case !any || rule.Rail != r.rail.Name:
			case rule.Kind == "found off":
				w.b.out.Outputs = append(w.b.out.Outputs, w.b.outputEvidence(rule.Against, v))
			default:
				ev.Verdicts = append(ev.Verdicts, v)
			}
		}
		w.b.out.Rails = append(w.b.out.Rails, ev)
	}
	w.b.out.Judged = w.judged()
	for _, x := range w.watches {
		w.file(x)
	}
}

func (w *walker) file(x *watchWalk) {
	watch := x.build.Watch(x.to)
	w.b.falls = append(w.b.falls, x.fell.done(x.to)...)
	if x.span.Rail == "" {
		watch.Point = x.span.Point
		w.b.points = append(w.b.points, x.span)
		w.b.out.Points = append(w.b.out.Points, watch)
		return
	}
	if x.span.Hold == capture.Clipped && watch.N > 0 {
		w.b.clipped = append(w.b.clipped, capture.Gap{From: x.from, To: x.to})
	}
	for i := range w.b.out.Rails {
		if w.b.out.Rails[i].Rail.Name == x.span.Rail {
			w.b.out.Rails[i].Watches = append(w.b.out.Rails[i].Watches, watch)
			w.b.out.Rails[i].Trends = append(w.b.out.Rails[i].Trends, x.survey.told(x.span.Channel)...)
			if x.means != nil {
				w.b.out.Rails[i].Soak = worse(x.means.rail, w.b.out.Rails[i].Soak, x.means.worst)
			}
		}
	}
}
