package job

import (
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
)

// Book is a job as its records tell it. The zero value is an empty job, ready
// to be fed. It is safe for concurrent use; what it returns belongs to the
// caller.
type Book struct {
	mu     sync.Mutex
	sheet  capture.Sheet
	roster capture.Roster
	rules  capture.RuleSet

	opened, closed capture.Instant

	placed  []placed // in order, to build placements again for who asks
	where   capture.Placements
	stages  []capture.StageSpan
	soaks   []SoakSpan
	entries []capture.Entry
	gaps    []capture.Gap
	nulls   []Null
	typed   []Reading
	newest  map[standing]capture.Record
}

type placed struct {
	at   capture.Instant
	what capture.Placement
}

// standing is one channel during one placement, and a quantity: the newest
// reading is kept for each, so that a corrected placement takes its reading to
// the right rail.
type standing struct {
	channel  capture.ChannelID
	since    capture.Instant
	quantity capture.Quantity
}

// SoakSpan is a soak from its start to its stop.
type SoakSpan struct {
	From    capture.Instant `json:"from"`
	To      capture.Instant `json:"to"`      // 0 while it lasts
	Planned time.Duration   `json:"planned"` // 0: open end
}

// Null is a nulling of the leads.
type Null struct {
	At      capture.Instant `json:"at"`
	Ohms    float64         `json:"ohms"`    // resistance of the leads
	Subject string          `json:"subject"` // the channel; empty: not said
}

// Reading is a reading with the place it belongs to.
type Reading struct {
	At        capture.Instant
	Rail      string // "" when it belongs to no rail
	Placement capture.Placement
	Reading   capture.Reading
}

// Consume takes the next record of the job.
func (b *Book) Consume(rec capture.Record) {
	if _, ok := rec.Item.(capture.Tick); ok || rec.Item == nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	switch it := rec.Item.(type) {
	case capture.Reading:
		b.reading(rec, it)
	case capture.Act:
		b.act(rec.At, it)
	case capture.Placement:
		b.placement(rec.At, it)
	case capture.Sheet:
		if say := sheetChange(b.sheet, it); say != "" && b.opened != 0 {
			b.entry(rec.At, capture.Act{Verb: SheetChange}, say)
		}
		b.sheet = it
	case capture.Roster:
		b.roster = it
	case capture.RuleSet:
		b.rules = it
	case capture.Gap:
		b.gaps = append(b.gaps, it)
	}
}

func (b *Book) reading(rec capture.Record, r capture.Reading) {
	p, since, _ := b.where.Now(r.Channel)
	if r.Quantity != capture.NoQuantity {
		if b.newest == nil {
			b.newest = map[standing]capture.Record{}
		}
		b.newest[standing{r.Channel, since, r.Quantity}] = rec
	}
	if r.Flags.Has(capture.Typed | capture.ByEye) {
		b.typed = append(b.typed, Reading{rec.At, p.Rail, p, r})
		b.entry(rec.At, capture.Act{Verb: Typed, Subject: p.Rail, Value: r.Value, By: p.By}, typed(p.Rail, p, r))
	}
}

func (b *Book) placement(at capture.Instant, p capture.Placement) {
	old, _ := b.where.At(p.Channel, p.Corrects)
	if b.where.Apply(at, p) != nil {
		return // a correction of nothing changes nothing
	}
	b.placed = append(b.placed, placed{at, p})
	if p.Corrects != 0 {
		b.entry(at, capture.Act{Verb: Corrected, Subject: string(p.Channel), Text: p.Why, By: p.By}, corrected(old, p))
	}
}

func (b *Book) act(at capture.Instant, a capture.Act) {
	say := Entry(a)
	switch a.Verb {
	case capture.ActOpen:
		if b.opened == 0 {
			b.opened = at
		}
		b.closed = 0
	case capture.ActClose:
		b.endSoak(at)
		b.endStage(at)
		b.closed = at
	case capture.ActStage:
		say = b.enter(at, a)
	case capture.ActSoak:
		say = b.soak(at, a)
	case capture.ActNull:
		b.nulls = append(b.nulls, Null{at, a.Value, a.Subject})
	}
	b.entry(at, a, say)
}

// enter begins a stage and says so, with what was skipped or gone back from.
func (b *Book) enter(at capture.Instant, a capture.Act) string {
	from := b.stage()
	if a.Stage != capture.Soak {
		b.endSoak(at)
	}
	b.endStage(at)
	b.stages = append(b.stages, capture.StageSpan{Stage: a.Stage, From: at, Reason: a.Text})
	order := capture.Stages()
	i, k := slices.Index(order, from), slices.Index(order, a.Stage)
	switch {
	case from != "" && k >= 0 && k < i:
		return finish("Back to "+string(a.Stage)+" from "+string(from), a.Text)
	case k > i+1:
		return finish(capital(string(a.Stage))+" begun ("+list(order[i+1:k])+" skipped)", a.Text)
	}
	return Entry(a)
}

func (b *Book) soak(at capture.Instant, a capture.Act) string {
	running := len(b.soaks) > 0 && b.soaks[len(b.soaks)-1].To == 0
	if a.Text == "start" {
		b.endSoak(at)
		b.soaks = append(b.soaks, SoakSpan{From: at, Planned: seconds(a.Value)})
		return Entry(a)
	}
	if !running {
		return Entry(a)
	}
	b.endSoak(at)
	if a.By == capture.ByPlan {
		return Entry(a)
	}
	return "Soak stopped after " + Span(at.Sub(b.soaks[len(b.soaks)-1].From)) + "."
}

func (b *Book) endSoak(at capture.Instant) {
	if n := len(b.soaks); n > 0 && b.soaks[n-1].To == 0 {
		b.soaks[n-1].To = at
	}
}

func (b *Book) endStage(at capture.Instant) {
	if n := len(b.stages); n > 0 && b.stages[n-1].To == 0 {
		b.stages[n-1].To = at
	}
}

// stage returns the stage entered last, "" before the first.
func (b *Book) stage() capture.Stage {
	if len(b.stages) == 0 {
		return ""
	}
	return b.stages[len(b.stages)-1].Stage
}

// entry adds an entry under the stage that it belongs to.
func (b *Book) entry(at capture.Instant, a capture.Act, say string) {
	stage := a.Stage
	if stage == "" {
		stage = b.stage()
	}
	b.entries = append(b.entries, capture.Entry{At: at, Stage: stage, Act: a, Text: say})
}
