package job

import (
	"slices"

	"steadyrail/capture"
)

// Sheet returns the job's sheet as it was recorded last.
func (b *Book) Sheet() capture.Sheet {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.sheet
	s.NotChecked = slices.Clone(s.NotChecked)
	s.Rails = slices.Clone(s.Rails)
	for i := range s.Rails {
		s.Rails[i].Feeds = slices.Clone(s.Rails[i].Feeds)
	}
	return s
}

// Roster returns the instruments as they were recorded last.
func (b *Book) Roster() capture.Roster {
	b.mu.Lock()
	defer b.mu.Unlock()
	r := capture.Roster{Instruments: slices.Clone(b.roster.Instruments)}
	for i := range r.Instruments {
		in := &r.Instruments[i]
		in.Acts = slices.Clone(in.Acts)
		in.Channels = slices.Clone(in.Channels)
		for k := range in.Channels {
			in.Channels[k].Accuracy = slices.Clone(in.Channels[k].Accuracy)
		}
	}
	return r
}

// Rules returns the rules in force.
func (b *Book) Rules() capture.RuleSet {
	b.mu.Lock()
	defer b.mu.Unlock()
	return capture.RuleSet{Rules: slices.Clone(b.rules.Rules), Formulas: slices.Clone(b.rules.Formulas), Engine: b.rules.Engine}
}

// Opened returns when the job was first opened; 0: it was not.
func (b *Book) Opened() capture.Instant {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.opened
}

// Closed returns when the job was closed; 0: it is open.
func (b *Book) Closed() capture.Instant {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.closed
}

// Stage returns the stage entered last and when; "" and 0 before the first.
func (b *Book) Stage() (capture.Stage, capture.Instant) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.stages) == 0 {
		return "", 0
	}
	s := b.stages[len(b.stages)-1]
	return s.Stage, s.From
}

// Stages returns every stretch spent in a stage, in order.
func (b *Book) Stages() []capture.StageSpan {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.stages)
}

// Soaks returns every soak, in order.
func (b *Book) Soaks() []SoakSpan {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.soaks)
}

// Entries returns what was done, said and concluded, in order.
func (b *Book) Entries() []capture.Entry {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.entries)
}

// Gaps returns where the record is known to be incomplete, in order.
func (b *Book) Gaps() []capture.Gap {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.gaps)
}

// Nulls returns every nulling of the leads, in order.
func (b *Book) Nulls() []Null {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.nulls)
}

// Typed returns the readings entered by hand, in order, under the rails that
// they belong to by now: corrected placements count.
func (b *Book) Typed() []Reading {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := slices.Clone(b.typed)
	for i := range out {
		if p, ok := b.where.At(out[i].Reading.Channel, out[i].At); ok {
			out[i].Rail, out[i].Placement = p.Rail, p
		}
	}
	return out
}

// Placements returns a fold of all placements so far.
func (b *Book) Placements() *capture.Placements {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := &capture.Placements{}
	for _, p := range b.placed {
		_ = out.Apply(p.at, p.what) // it was applied before
	}
	return out
}

// Newest returns the newest reading of a quantity that belongs to a rail,
// corrected placements counted, and whether there is one. It may be one
// without a value.
func (b *Book) Newest(rail string, q capture.Quantity) (Reading, bool) {
	return b.newestOf(rail, q, func(capture.Reading) bool { return true })
}

// NewestMeasured is [Book.Newest] of what a meter answered: what was read by eye
// since does not stand before it.
func (b *Book) NewestMeasured(rail string, q capture.Quantity) (Reading, bool) {
	return b.newestOf(rail, q, func(r capture.Reading) bool { return !r.Flags.Has(capture.Typed | capture.ByEye) })
}

func (b *Book) newestOf(rail string, q capture.Quantity, counts func(capture.Reading) bool) (Reading, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var best Reading
	found := false
	for _, s := range b.where.Spans(rail) {
		rec, ok := b.newest[standing{s.Channel, s.From, q}]
		if !ok || found && rec.At <= best.At {
			continue
		}
		if r := rec.Item.(capture.Reading); counts(r) {
			best, found = Reading{rec.At, s.Rail, s.Placement, r}, true
		}
	}
	return best, found
}
