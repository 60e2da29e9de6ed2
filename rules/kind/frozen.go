package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// frozen judges whether a meter repeats an old value: the same digits for
// longer than its own noise allows. What its noise allows is learned from its
// own readings on this contact: the share of them that differ from the one
// before. A meter whose noise is below its resolution repeats itself by right,
// and is never judged; nor is a rail that is off, where many meters show nought.
type frozen struct {
	base
	pairs   int // readings that followed another one
	changed int // of these, that differed from it
	same    int // readings in a row that equal the first of them
	since   capture.Instant
	allowed int // most repeats that its noise allows; 0: not learned, or too calm
	ended   capture.Instant
	stuck   bool
}

const (
	// FrozenLeast is the shortest stretch of identical digits that is told.
	FrozenLeast = 10 * time.Second
	// frozenLearn is how many readings a meter's noise is learned from, and
	// frozenShare the share that must differ: below it, the noise hardly turns
	// the last digit.
	frozenLearn = 50
	frozenShare = 0.2
	// frozenChance is how improbable a run of identical digits must be, were the
	// readings independent; as they seldom are quite, three times its length is
	// asked for.
	frozenChance = 1e-9
	frozenMargin = 3
	// frozenMemory halves what was learned, so that newer readings count more.
	frozenMemory = 1024
)

func newFrozen(c Case) Judge { return &frozen{base: base{Case: c}} }

func (f *frozen) Sit(at capture.Instant, seat Seat) { f.base.Sit(at, seat); f.forget() }
func (f *frozen) Blind(capture.Instant)             { f.lastAt = 0; f.forget() }

func (f *frozen) forget() {
	f.pairs, f.changed, f.same, f.allowed, f.stuck = 0, 0, 0, 0, false
}

func (f *frozen) Read(at capture.Instant, r *capture.Reading) {
	before, had := f.last, f.lastAt != 0
	if r.Flags.Has(capture.Typed|capture.ByEye) || !f.keep(at, r) {
		return
	}
	switch {
	case f.off(r) || had && (before.Resolution != r.Resolution || before.Range != r.Range):
		f.forget() // another range, another noise
		f.start(at)
	case !had:
		f.start(at)
	case digitsEqual(before, *r):
		f.repeat(at)
	default:
		f.change(at)
	}
}

// off reports whether the rail is hardly there.
func (f *frozen) off(r *capture.Reading) bool {
	return f.Rule.Of == "" && abs(f.share(r.Value)) < FedBelow
}

// digitsEqual compares what the meter showed: its digits, where it sent any.
func digitsEqual(a, b capture.Reading) bool {
	return a.Text == b.Text && a.Value == b.Value && a.Flags == b.Flags
}

func (f *frozen) start(at capture.Instant) { f.same, f.since = 0, at }

func (f *frozen) repeat(at capture.Instant) {
	f.same++
	most := f.allowed
	if f.Rule.Count > 0 {
		most = max(most, f.Rule.Count)
	}
	long := at.Sub(f.since) >= orDefault(f.Rule.Window, FrozenLeast)
	f.stuck = f.stuck || f.allowed > 0 && f.same > most && long
}

// change ends a run. What was learned takes it in only now, and not when it was
// a frozen one: that is no noise.
func (f *frozen) change(at capture.Instant) {
	if f.stuck {
		f.stuck, f.ended = false, at
	} else {
		f.pairs += f.same + 1
		f.changed++
		f.learn()
	}
	f.start(at)
}

func (f *frozen) learn() {
	if f.pairs >= frozenMemory {
		f.pairs, f.changed = f.pairs/2, f.changed/2
	}
	share := float64(f.changed) / float64(f.pairs)
	if f.pairs < frozenLearn || share < frozenShare {
		f.allowed = 0
		return
	}
	f.allowed = frozenMargin * runOf(min(share, 0.9))
}

// runOf is how many repeats in a row are as improbable as frozenChance, by
// multiplication: a logarithm's last digit depends on the processor.
func runOf(share float64) int {
	n, chance := 0, 1.0
	for ; chance > frozenChance; n++ {
		chance *= 1 - share
	}
	return n
}

func (f *frozen) Condition() Condition {
	switch {
	case !f.known() || f.allowed == 0:
		return Unknown
	case f.stuck:
		return Present
	}
	return Absent
}

func (f *frozen) Outcome() capture.Outcome {
	switch f.Condition() {
	case Present:
		return capture.Fail
	case Absent:
		return capture.Pass
	}
	return capture.NoData
}

func (f *frozen) Verdict() capture.Verdict {
	v := f.blank("")
	v.Outcome, v.Value, v.Unit, v.Resolution = f.Outcome(), f.last.Value, f.unit().ASCII(), f.last.Resolution
	v.From, v.To, v.N = f.since, f.lastAt, f.same+1
	switch {
	case !f.known():
		return f.blank("No reading")
	case f.stuck:
		v.Say = fmt.Sprintf("Frozen at %s", f.figure(f.last.Value))
	case f.allowed > 0:
		v.Say = "Its digits move"
	case f.off(&f.last):
		v.Say = "Not watched: the rail is hardly there"
	case f.pairs < frozenLearn:
		v.Say = "Not yet: it has shown too little noise to learn from"
	default:
		v.Say = "Cannot tell: this meter's noise is below its last digit"
	}
	return v
}

func (f *frozen) Finding() Finding {
	out := f.finding(f.now)
	out.Say = fmt.Sprintf("%s may be an old value: %s shows %s unchanged for %s s, its own noise allows %d repeats and %d were read",
		f.subject(), f.seat.Channel.ID.Instrument(), f.figure(f.last.Value), seconds(f.now.Sub(f.since)), f.allowed, f.same)
	out.Advice = "is it on hold, or has its link gone stale? Touch another rail with it and see whether it follows"
	return out
}

func (f *frozen) Recovery() Finding {
	out := f.finding(f.ended)
	out.Say = fmt.Sprintf("%s moves again: %s", f.subject(), f.figure(f.last.Value))
	return out
}

func (f *frozen) finding(at capture.Instant) Finding {
	return Finding{Value: f.last.Value, Unit: f.unit().ASCII(), Evidence: []capture.Instant{f.since, at}}
}
