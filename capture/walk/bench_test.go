package walk

import (
	"fmt"
	"math"
	"math/rand/v2"

	"steadyrail/capture"
)

// The bench of these tests: a meter on a bus that files by where the channel
// stood when measuring began, a board, and a technician who errs.

const ms = 1000 // in instants

// parts of an aperture are looked at each for itself.
const parts = 8

const (
	voltsOn capture.ChannelID = "dmm/volts"
	ohmsOn  capture.ChannelID = "dmm/ohms"
)

// node is what the red probe is on: a rail's index, or open.
const open = -1

// trueRail is a rail as it is.
type trueRail struct {
	volts, drift float64 // V, V/s
	ohms, back   float64 // both ways round
	tau          float64 // s, of the capacitor behind it
}

// change is a move of the probe.
type change struct {
	at       capture.Instant
	node     int
	reversed bool
}

type filedAt struct {
	rec  capture.Record
	from capture.Instant // begin of the aperture
	to   capture.Instant
}

type testBench struct {
	r       *rand.Rand
	now     capture.Instant
	rails   []trueRail
	setup   Setup
	m       *Machine
	moves   []change
	selects capture.Quantity
	moved   capture.Instant // of the placement in force
	places  capture.Placements
	log     []filedAt
	skips   int
	ends    int

	every, aperture capture.Instant
	gap             capture.Instant // of auto-ranging from open
	float           float64         // V that open leads pick up, standard deviation
	hold            float64         // s, of an input above 10 gigaohm; 0: none
	next            capture.Instant // next poll
	wasOpen         bool
	held            float64         // range, 0: by itself
	started         capture.Instant // of each step
	took            []float64
	judge           *judged         // nil: no rules are asked
	on              Step            // that the probe was placed for
	looked          capture.Instant // when the newest aperture ended
	lag             capture.Instant // a record is stamped up to so much after its aperture
}

func newTestBench(r *rand.Rand, setup Setup, rails []trueRail) *testBench {
	b := &testBench{r: r, now: 1_000_000_000, setup: setup, rails: rails, moves: []change{{0, open, false}}, wasOpen: true, log: make([]filedAt, 0, 800),
		every: 200 * ms, aperture: 20 * ms, gap: 1500 * ms, float: 0.004}
	m, do := New(setup, b.now)
	b.m = m
	b.next, b.started = b.now+b.every, b.now
	b.carry(do)
	return b
}

func (b *testBench) at(t capture.Instant) change {
	for i := len(b.moves) - 1; i >= 0; i-- {
		if b.moves[i].at <= t {
			return b.moves[i]
		}
	}
	return b.moves[0]
}

func (b *testBench) move(node int, reversed bool) {
	b.moves = append(b.moves, change{b.now, node, reversed})
}

func (b *testBench) stamp() capture.Instant { b.now++; return b.now }

// carry does what the application does.
func (b *testBench) carry(list []Do) {
	for _, d := range list {
		switch d.Kind {
		case Select:
			b.selects = d.Step.Quantity
			b.next = b.now + 200*ms
		case Range:
			b.held = d.Value
		case Place:
			b.on = d.Step
			b.place(capture.Placement{Channel: b.channel(), Rail: d.Step.Said(), Why: d.Why}, b.m.Placed)
		case Off:
			b.on = Step{}
			b.took = append(b.took, float64(b.now-b.started)/1e6)
			b.started = b.now
			b.place(capture.Placement{Channel: b.channel()}, nil)
		case Withdraw:
			b.on = Step{}
			p := capture.Placement{Channel: b.channelOf(d.Step), Corrects: d.At, Why: d.Why}
			if err := b.places.Apply(b.stamp(), p); err != nil {
				panic(err)
			}
			b.place(capture.Placement{Channel: b.channelOf(d.Step)}, nil)
		case Skip:
			b.skips++
		case End:
			b.ends++
		}
	}
}

func (b *testBench) channelOf(s Step) capture.ChannelID {
	if s.Quantity == capture.Resistance {
		return ohmsOn
	}
	return voltsOn
}

func (b *testBench) channel() capture.ChannelID { return b.channelOf(Step{Quantity: b.selects}) }

// place records a placement; whoever asked for it is told before anybody else.
func (b *testBench) place(p capture.Placement, told func(capture.Instant)) {
	at := b.stamp()
	if err := b.places.Apply(at, p); err != nil {
		panic(err)
	}
	b.moved = at
	if told != nil {
		told(at)
	}
	b.feed(capture.Record{At: at, Job: b.setup.Job, Item: p})
}

func (b *testBench) feed(rec capture.Record) {
	if b.judge != nil {
		b.m.Unsure(b.judge.unsure(rec, b.setup.Job, b.on))
	}
	b.carry(b.m.Consume(rec))
}

// poll takes a reading whose aperture ends now.
func (b *testBench) poll() {
	to := b.now
	if b.lag > 0 {
		to = max(to-capture.Instant(b.r.Int64N(int64(b.lag))), min(to, b.looked+b.aperture))
	}
	b.looked = to
	from := to - b.aperture
	r := capture.Reading{Channel: b.channel(), Quantity: b.selects, Measured: (from + to) / 2, Resolution: 1e-5}
	var mean float64
	anyOpen, n := false, 0
	for t := from; t < to; t += b.aperture / parts {
		v, isOpen := b.value(t)
		anyOpen = anyOpen || isOpen
		mean += v
		n++
	}
	r.Value = mean / float64(n)
	span := math.Inf(1)
	if b.held > 0 {
		span = math.Pow(10, math.Ceil(math.Log10(b.held/1.2)))
		r.Resolution = 1e-6 * span
		r.Value += r.Resolution * b.r.NormFloat64()
	}
	anyOpen = anyOpen || b.selects == capture.Resistance && r.Value > 1.2*span
	if b.selects == capture.Resistance && anyOpen {
		r.Flags, r.Value = capture.OverRange, 0
	}
	job := b.setup.Job
	if from <= b.moved {
		job = ""
	}
	rec := capture.Record{At: b.stamp(), Job: job, Item: r}
	b.log = append(b.log, filedAt{rec, from, to})
	b.feed(rec)
	b.next = b.now + capture.Instant(float64(b.every)*(0.5+b.r.Float64()))
	if b.judge != nil {
		b.next = b.now + b.every + capture.Instant(b.r.Int64N(30*ms)) // evenly, on a computer that is busy
	}
	if anyOpen != b.wasOpen && b.held == 0 {
		b.next += b.gap
	}
	b.wasOpen = anyOpen
}

// value is what the meter would see at an instant.
func (b *testBench) value(t capture.Instant) (v float64, isOpen bool) {
	c := b.at(t)
	if b.selects == capture.DCVoltage {
		if c.node == open {
			return b.r.NormFloat64()*b.float + b.sag(t), true
		}
		r := b.rails[c.node]
		return r.volts + r.drift*float64(t-1_000_000_000)/1e6 + b.r.NormFloat64()*2e-4, false
	}
	if c.node == open {
		return 0, true
	}
	r := b.rails[c.node]
	ohms := r.ohms
	if c.reversed {
		ohms = r.back
	}
	if r.tau > 0 {
		ohms *= -math.Expm1(-float64(t-c.at) / 1e6 / r.tau)
	}
	return ohms + 0.2 + 0.01*b.r.NormFloat64(), false
}

// sag is what an input above 10 gigaohm still holds of the last rail.
func (b *testBench) sag(t capture.Instant) float64 {
	if b.hold == 0 {
		return 0
	}
	for i := len(b.moves) - 1; i > 0; i-- {
		if b.moves[i].at <= t && b.moves[i].node == open && b.moves[i-1].node != open {
			return b.rails[b.moves[i-1].node].volts * math.Exp(-float64(t-b.moves[i].at)/1e6/b.hold)
		}
	}
	return 0
}

// pass lets 10 ms pass.
func (b *testBench) pass() {
	b.now += 10 * ms
	if b.now/(100*ms) != (b.now-10*ms)/(100*ms) {
		b.feed(capture.Record{At: b.now, Item: capture.Tick{}})
	}
	if b.now >= b.next && b.m.state != over {
		b.poll()
	}
}

// misfiled returns what stands under a rail in the record, corrections made, and
// is not that rail's: the probe was for the greater part on another, or in the air
// with a figure that the rail does not have. It also counts what stands rightly.
func (b *testBench) misfiled() (wrong []string, right int) {
	for _, l := range b.log {
		if l.rec.Job == "" {
			continue
		}
		r := l.rec.Item.(capture.Reading)
		p, _ := b.places.At(r.Channel, l.rec.At)
		if p.Rail == "" {
			continue
		}
		if b.belongs(l, r, p.Rail) {
			right++
		} else {
			wrong = append(wrong, fmt.Sprintf("%v under %s at %v", r.Value, p.Rail, l.rec.At))
		}
	}
	return wrong, right
}

func (b *testBench) belongs(l filedAt, r capture.Reading, name string) bool {
	there, elsewhere, all := 0, 0, 0
	for t := l.from; t < l.to; t += b.aperture / parts {
		c := b.at(t)
		all++
		switch {
		case c.node == open:
		case (Step{b.setup.Rails[c.node].Name, r.Quantity, c.reversed}).Said() == name:
			there++
		default:
			elsewhere++
		}
	}
	if 2*elsewhere > all {
		return false
	}
	return 2*there > all || b.hasVolts(r, name)
}

// hasVolts reports whether a voltage is what the rail had: an input above 10
// gigaohm shows it for a moment longer.
func (b *testBench) hasVolts(r capture.Reading, name string) bool {
	for i, rail := range b.setup.Rails {
		if rail.Name == name {
			return r.Quantity == capture.DCVoltage && math.Abs(r.Value-b.rails[i].volts) < 0.02*math.Abs(b.rails[i].volts)
		}
	}
	return false
}
