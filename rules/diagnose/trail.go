package diagnose

import (
	"slices"
	"strings"
	"sync"

	"steadyrail/capture"
)

// Trail follows a job's records and keeps what an isolation rests on: what each
// probe came to while it stood somewhere, what was lifted, put back and tried.
// It is a [capture.Sink]; the zero value is ready. It is safe for concurrent use.
type Trail struct {
	mu     sync.Mutex
	places capture.Placements
	roster capture.Roster
	sheet  capture.Sheet
	stage  capture.Stage
	nulls  []nulled
	open   map[capture.ChannelID]*stay // where each probe stands now
	events []event
	inject bool // a small current flows
	last   map[string]deadness
	ways   capture.Polarities
	engine *Engine // of the sheet that was searched by last
	ended  bool    // the set has a stand-in: what follows is no isolation until it begins anew
}

// event is one thing that happened: a stay of a probe, or an act.
type event struct {
	at   capture.Instant
	stay *stay
	act  capture.Act
}

// deadness is the newest volts that were seen on a rail without power.
type deadness struct {
	at    capture.Instant
	volts float64
}

type nulled struct {
	subject string
	ohms    float64
}

// Consume takes the next record.
func (t *Trail) Consume(rec capture.Record) {
	t.mu.Lock()
	defer t.mu.Unlock()
	switch it := rec.Item.(type) {
	case capture.Reading:
		t.reading(rec.At, it)
	case capture.Placement:
		if t.places.Apply(rec.At, it) == nil && it.Corrects == 0 {
			delete(t.open, it.Channel)
		}
	case capture.Act:
		t.act(rec.At, it)
	case capture.Sheet:
		t.sheet = it
	case capture.Roster:
		t.roster = it
	}
}

// act keeps what changes the board. Each ends the stays: what is read after it
// belongs to another board.
func (t *Trail) act(at capture.Instant, a capture.Act) {
	switch a.Verb {
	case capture.ActStage:
		t.enter(at, a)
	case capture.ActNull:
		t.nulls = append(slices.DeleteFunc(t.nulls, func(n nulled) bool { return n.subject == a.Subject }), nulled{a.Subject, a.Value})
	case capture.ActLift, capture.ActPutBack, capture.ActTried, capture.ActBoard, capture.ActPart:
		t.events = append(t.events, event{at: at, act: a})
	case capture.ActAnew:
		t.anew()
		t.events = append(t.events, event{at: at, act: a})
	case capture.ActPolarity:
		t.ways.Take(a)
	case capture.ActOutput, capture.ActInject:
		t.inject = injecting(t.inject, a)
	default:
		return
	}
	t.close(a)
}

// injecting reports whether a small current flows after an act. An injection that
// begins says for how long; the one that ended says no time, and comes after its
// output went off: it must not stand for another.
func injecting(was bool, a capture.Act) bool {
	if a.Verb == capture.ActInject {
		return a.Value > 0
	}
	return was && a.Text == "on"
}

// close ends what an act changes: every stay, but a part that is read off the
// board does not care what else is lifted or put back.
func (t *Trail) close(a capture.Act) {
	board := a.Verb == capture.ActLift || a.Verb == capture.ActPutBack || a.Verb == capture.ActTried || a.Verb == capture.ActPart
	for ch, s := range t.open {
		part, _, _ := strings.Cut(s.where.Point, " ")
		if !board || s.where.Rail != "" || strings.EqualFold(part, a.Subject) {
			delete(t.open, ch)
		}
	}
}

// enter follows the stages: with a stand-in the isolation is over, and one that
// is begun after it is another one.
func (t *Trail) enter(at capture.Instant, a capture.Act) {
	t.stage = a.Stage
	switch a.Stage {
	case capture.StandIn:
		t.ended = true
	case capture.ColdChecks, capture.Isolate:
		if t.ended {
			t.anew()
			t.events = append(t.events, event{at: at, act: capture.Act{Verb: capture.ActAnew, Text: "after the stand-in"}})
		}
	}
}

// reversed reports whether a channel reads with its leads exchanged, and which
// rail that is of: what is read backwards through semiconductors is no
// resistance of the rail, and is kept apart. Walks of old had it on a point that
// was named so.
func (t *Trail) reversed(ch capture.ChannelID, p capture.Placement) (rail string, is bool) {
	if rail, is = strings.CutSuffix(p.Point, ", leads reversed"); is && p.Rail == "" {
		return rail, true
	}
	return p.Rail, p.Rail != "" && t.ways.Reversed(ch)
}

// Reversed reports whether it was said last that a channel measures with its leads
// exchanged.
func (t *Trail) Reversed(ch capture.ChannelID) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.ways.Reversed(ch)
}

func (t *Trail) anew() { t.ended, t.last = false, nil }

func (t *Trail) reading(at capture.Instant, r capture.Reading) {
	if t.ended || r.Flags.Has(capture.Held|capture.LowBattery) {
		return
	}
	s := t.open[r.Channel]
	if s == nil || s.quantity != r.Quantity && r.Quantity != capture.NoQuantity {
		where, ok := t.places.At(r.Channel, at)
		if !ok || where.Rail == "" && where.Point == "" || r.Quantity == capture.NoQuantity {
			return
		}
		s = t.begin(at, r, where)
	}
	s.add(at, r)
	if s.quantity == capture.DCVoltage && !s.live && !s.inject && s.where.Rail != "" && r.HasValue() {
		if t.last == nil {
			t.last = map[string]deadness{}
		}
		t.last[s.where.Rail] = deadness{at, r.Value}
	}
}

// begin opens a stay. What is known of the meter is taken now: it may be
// nulled anew, or configured otherwise, later.
func (t *Trail) begin(at capture.Instant, r capture.Reading, where capture.Placement) *stay {
	s := &stay{channel: r.Channel, quantity: r.Quantity, where: where, from: at, live: t.stage.Live(), hot: t.stage == capture.WarmUp || t.stage == capture.Soak, inject: t.inject}
	s.back, s.reversed = t.reversed(r.Channel, where)
	s.typed = r.Flags.Has(capture.Typed | capture.ByEye)
	if ch, known := t.roster.Channel(r.Channel); known {
		s.accuracy = ch.Accuracy
	}
	for _, n := range t.nulls {
		if n.subject == "" || n.subject == string(r.Channel) || n.subject == r.Channel.Instrument() {
			s.lead, s.nulled = n.ohms, true
		}
	}
	if d, seen := t.last[where.Rail]; seen {
		s.charged = d.volts
	}
	if t.open == nil {
		t.open = map[capture.ChannelID]*stay{}
	}
	t.open[r.Channel] = s
	t.events = append(t.events, event{at: at, stay: s})
	return s
}

// Sheet returns the text of the newest board sheet that the job was given;
// empty: none.
func (t *Trail) Sheet() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, e := range slices.Backward(t.events) {
		if e.act.Verb == capture.ActBoard {
			return e.act.Text
		}
	}
	return ""
}
