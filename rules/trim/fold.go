package trim

import (
	"time"

	"steadyrail/capture"
)

// Fold follows every rail of a job. The zero value is ready.
type Fold struct {
	job    string
	stage  capture.Stage
	roster capture.Roster
	rails  []*watch
	places capture.Placements
}

// Consume takes the next record.
func (f *Fold) Consume(rec capture.Record) {
	switch it := rec.Item.(type) {
	case capture.Reading:
		f.reading(rec.At, it)
	case capture.Act:
		f.act(rec.At, it)
	case capture.Placement:
		f.placement(rec.At, it)
	case capture.Sheet:
		f.sheet(it)
	case capture.Roster:
		f.roster = it
	case capture.Gap:
		f.each((*watch).disturb)
	}
}

func (f *Fold) each(do func(*watch)) {
	for _, w := range f.rails {
		do(w)
	}
}

func (f *Fold) sheet(s capture.Sheet) {
	f.job = s.Job
	for _, r := range s.Rails {
		if w := f.rail(r.Name); w != nil {
			w.rail = r
			continue
		}
		f.rails = append(f.rails, newWatch(r))
	}
}

func (f *Fold) rail(name string) *watch {
	for _, w := range f.rails {
		if w.rail.Name == name {
			return w
		}
	}
	return nil
}

// placement puts a channel of volts on a rail, or takes it off. A correction is
// taken as where the channel is from now on.
func (f *Fold) placement(at capture.Instant, p capture.Placement) {
	if f.places.Apply(at, p) != nil {
		return
	}
	now, _, _ := f.places.Now(p.Channel)
	for _, w := range f.rails {
		if w.on.ID == p.Channel && w.rail.Name != now.Rail {
			w.placed(at, capture.Placement{}, capture.ChannelInfo{})
		}
	}
	info, known := f.roster.Channel(p.Channel)
	if w := f.rail(now.Rail); w != nil && known && info.Quantity == capture.DCVoltage && !info.Setpoint {
		w.placed(at, now, info)
	}
}

// reading files a reading by where the probe was when measuring began.
func (f *Fold) reading(at capture.Instant, r capture.Reading) {
	for _, w := range f.rails {
		if w.on.ID != r.Channel || w.on.ID == "" || r.Measured.Add(-r.HalfWidth) < w.since {
			continue
		}
		if w.read(at, r) {
			w.steadyIn(f.stage)
		}
		return
	}
}

func (f *Fold) act(at capture.Instant, a capture.Act) {
	switch a.Verb {
	case capture.ActStage:
		f.enter(a.Stage)
	case capture.ActTurn:
		f.turned(at, a)
	case capture.ActMark:
		if w := f.rail(a.Subject); w != nil {
			w.mark(at, f.stage, a)
		}
	case capture.ActTrimmer:
		if w := f.rail(a.Subject); w != nil && a.Value != 0 {
			if span, _, err := capture.Volt.ParseTyped(a.Text, capture.Point); err == nil {
				w.trimmer = span / a.Value
			}
		}
	case capture.ActOutput, capture.ActInput, capture.ActLimits:
		f.each((*watch).disturb)
	}
}

// turned files turns: by the rail that the act names, or when it names the
// converter, to the rail in work.
func (f *Fold) turned(at capture.Instant, a capture.Act) {
	w := f.rail(a.Subject)
	if w == nil {
		w = f.inWork()
	}
	if w != nil {
		w.turn(at, a.Value)
	}
}

// inWork is the rail that was touched last, or the only one with a probe; nil
// when nobody can say.
func (f *Fold) inWork() (best *watch) {
	var newest capture.Instant
	live := 0
	for _, w := range f.rails {
		if n := len(w.touches); n > 0 && w.touches[n-1].To > newest {
			best, newest = w, w.touches[n-1].To
		}
		if w.on.ID != "" && w.lastAt != 0 {
			live++
		}
	}
	if best != nil || live != 1 {
		return best
	}
	for _, w := range f.rails {
		if w.on.ID != "" && w.lastAt != 0 {
			return w
		}
	}
	return nil
}

// enter begins a stage: the preset ends with what was steady then, for the
// converter is fitted next.
func (f *Fold) enter(s capture.Stage) {
	for _, w := range f.rails {
		if f.stage == capture.Preset && s != capture.Preset {
			w.presetEnds()
		}
		if s == capture.Trim || s == capture.Preset {
			w.disturb()
			w.held = nil
		}
	}
	f.stage = s
}

// Rails names the rails, in the order of the sheet.
func (f *Fold) Rails() []string {
	var out []string
	f.each(func(w *watch) { out = append(out, w.rail.Name) })
	return out
}

// staleAfter is how old a reading may be, beside three intervals, to be a state.
const staleAfter = 3 * time.Second

// State says how a rail stands at an instant; false when the job has none of
// that name.
func (f *Fold) State(rail string, now capture.Instant) (capture.Trimming, bool) {
	w := f.rail(rail)
	if w == nil {
		return capture.Trimming{}, false
	}
	t := w.state(now)
	t.Job = f.job
	return t, true
}
