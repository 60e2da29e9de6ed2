package sim

import (
	"container/heap"
	"math"
	"math/rand/v2"
	"time"

	"steadyrail/capture"
)

// world is the physical model: everything on the bench but the instruments'
// electronics. It advances in steps on a fixed grid of bench time, short ones
// while something moves. What is done to it takes effect at the end of the
// step it falls into, at most longStep later. Not safe for concurrent use: the
// bench's lock guards it.
type world struct {
	scenario Scenario
	now      capture.Instant
	closeTo  capture.Instant // look closely until then
	events   eventHeap
	order    uint64
	past     *history
	last     values

	supply  source
	standIn standIn
	load    load
	in      map[string]bool // parts on the board
	feed    string          // where the supply's leads are

	v24, v5, v12, vm12, v3, vPin float64
	auxOn                        bool

	jointUntil, shortUntil capture.Instant
	jointFault, shortOhms  float64
	jointChance            *rand.Rand
	loadOrdinal            int // counts load steps, so that an old one ends nothing

	room      float64 // °C
	roomPhase float64
	start     capture.Instant
	bead      float64 // °C
	beadAt    node    // nCase or nRoom
	beadTau   float64 // s

	inject map[string]injection // test currents of ohmmeters, by instrument
}

type injection struct {
	at   node
	amps float64
}

const (
	shortStep = 500    // µs
	longStep  = 10_000 // µs
	closeFor  = 3_000  // µs of short steps after something moved
	moved     = 0.02   // V in one step that count as moving
)

func newWorld(start capture.Instant, seed uint64, sc Scenario) *world {
	w := &world{
		scenario: sc, now: start, start: start, past: newHistory(),
		load: newLoad(seed), feed: FeedBoard,
		in:          map[string]bool{CN3: true, C104: true, PS2: true},
		jointChance: stream(seed, "the joint"),
		beadAt:      nRoom, beadTau: 4,
		inject: map[string]injection{},
	}
	chance := stream(seed, "the world")
	// Both protections are on from the start, as the models of drivers/models take
	// them to be: they program where each trips, and nothing else.
	w.supply = source{iset: 0.1, ovp: 35, ocp: 5.5, ovpOn: true, ocpOn: true, gain: 1 + between(chance, -2e-4, 2e-4)}
	w.standIn = standIn{
		trim:  trimmer{screw: sc.Trimmer, target: sc.Trimmer, wiper: sc.Trimmer, wobble: wander{sd: bladeWobble, tau: 0.15, r: chance}},
		stray: wander{sd: 0.0003, tau: 20, r: stream(seed, "the reference")},
	}
	w.roomPhase = between(chance, 0, 2*math.Pi)
	w.room = w.roomAt(start)
	w.bead = w.room
	w.last = w.values()
	w.load.begin(w)
	return w
}

// advance brings the model to the given instant or up to one step past it.
func (w *world) advance(to capture.Instant) {
	for {
		w.runEvents()
		if w.now >= to {
			return
		}
		w.integrate(w.nextStop())
	}
}

// nextStop is the next point of the grid, or the next event before it.
func (w *world) nextStop() capture.Instant {
	grid := capture.Instant(longStep)
	if w.now < w.closeTo {
		grid = shortStep
	}
	stop := (w.now/grid + 1) * grid
	if len(w.events) > 0 && w.events[0].at < stop {
		stop = w.events[0].at
	}
	return stop
}

func (w *world) integrate(stop capture.Instant) {
	dt := float64(stop-w.now) / 1e6
	w.standIn.trim.step(dt)
	w.standIn.stray.step(dt)
	w.mayFail(dt)
	w.stepInput(dt)
	w.stepAux(dt)
	w.step5(dt)
	w.step3(dt)
	w.stepPin()
	w.stepHeat(dt)
	s := segment{t0: w.now, t1: stop, a: w.last, b: w.values()}
	w.past.add(s)
	w.now, w.last = stop, s.b
	for n := nSupply; n <= nPin; n++ {
		if math.Abs(s.b[n]-s.a[n]) > moved {
			w.lookClosely()
			break
		}
	}
}

func (w *world) lookClosely() { w.closeTo = max(w.closeTo, w.now+closeFor) }

func (w *world) stepHeat(dt float64) {
	c := &w.standIn
	w.room = w.roomAt(w.now)
	c.warmth.step(c.loss(), dt)
	hot := w.caseDegrees()
	c.hot = hot > hotAbove || c.hot && hot > hotBelow
	goal := w.room
	if w.beadAt == nCase {
		goal = hot
	}
	w.bead = goal + (w.bead-goal)*math.Exp(-dt/w.beadTau)
}

// roomAt is a room that breathes by 0.8 K in five hours.
func (w *world) roomAt(t capture.Instant) float64 {
	return w.scenario.Room + 0.8*math.Sin(2*math.Pi*t.Sub(w.start).Hours()/5+w.roomPhase)
}

func (w *world) caseDegrees() float64 { return w.room + w.standIn.warmth.rise() }

// mayFail lets the joint open by itself, the more often the hotter it is.
func (w *world) mayFail(dt float64) {
	rate := w.scenario.JointPerHour / 3600
	if rate <= 0 || !w.in[StandIn] || w.now < w.jointUntil {
		return
	}
	rate *= math.Exp2((w.caseDegrees() - 45) / 10)
	if w.jointChance.Float64() < rate*dt {
		w.openJoint(seconds(between(w.jointChance, 0.3, 2.5)), 40)
	}
}

func (w *world) openJoint(d time.Duration, ohms float64) {
	w.jointUntil, w.jointFault = w.now.Add(d), ohms
	w.schedule(w.jointUntil, func() {})
	w.lookClosely()
}

func (w *world) values() values {
	c := &w.standIn
	return values{
		nSupply: w.supply.v, n24: w.v24, nIn: c.vin, nOut: c.out, n5: w.v5, n12: w.v12, nm12: w.vm12,
		n3: w.v3, nPin: w.vPin, nCase: w.caseDegrees(), nRoom: w.room, nBead: w.bead, nAmps: w.supply.i,
	}
}

// injected is the sum of the ohmmeters' test currents into a node.
func (w *world) injected(n node) float64 {
	var sum float64
	for _, name := range [...]string{DMM, DMM2, DMM3, DMM4, HandheldName, HandheldName2} {
		if in := w.inject[name]; in.at == n {
			sum += in.amps
		}
	}
	return sum
}

// schedule runs do when the model reaches the instant, or in its next step
// when that has passed.
func (w *world) schedule(at capture.Instant, do func()) {
	w.order++
	heap.Push(&w.events, event{at: at, order: w.order, do: do})
}

func (w *world) runEvents() {
	for len(w.events) > 0 && w.events[0].at <= w.now {
		heap.Pop(&w.events).(event).do()
		w.lookClosely()
	}
}

type event struct {
	at    capture.Instant
	order uint64 // first come, first served within an instant
	do    func()
}

type eventHeap []event

func (h eventHeap) Len() int { return len(h) }
func (h eventHeap) Less(i, j int) bool {
	return h[i].at < h[j].at || h[i].at == h[j].at && h[i].order < h[j].order
}
func (h eventHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *eventHeap) Push(x any)   { *h = append(*h, x.(event)) }
func (h *eventHeap) Pop() any {
	old := *h
	e := old[len(old)-1]
	*h = old[:len(old)-1]
	return e
}
