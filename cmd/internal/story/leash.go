package story

import (
	"sync"
	"sync/atomic"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// Leash keeps the clock from running away. While nothing but waiting is to be
// done, it may not pass what the slowest of the clipped meters has answered by more
// than slack; else no more of it passes at once than a busy computer serves, see
// [sim.Clock.Steady]. It is a bench-wide sink.
type Leash struct {
	clock *sim.Clock
	mu    sync.Mutex
	calm  func()                                // ends the steadying; nil: there is none
	on    atomic.Bool                           // only while nothing but waiting is to be done
	last  map[capture.ChannelID]capture.Instant // touched under the bus's lock alone
}

// slack is shorter than the silence that any rule would call one, and longer
// than two dithered polls can be apart.
const slack = 1500 * time.Millisecond

// lead is how much wall time the clock may run before somebody looks.
const lead = 20 * time.Millisecond

// hold begins the holding, release ends it.
func (l *Leash) hold() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.settle()
	l.clock.Leash(l.clock.Now().Add(slack))
	l.on.Store(true)
}

func (l *Leash) release() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.on.Store(false)
	if l.calm == nil {
		l.calm = l.clock.Steady(lead)
	}
}

// end lets the clock run as it likes.
func (l *Leash) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.on.Store(false)
	l.settle()
	l.clock.Unleash()
}

// settle ends the steadying.
func (l *Leash) settle() {
	if l.calm != nil {
		l.calm()
		l.calm = nil
	}
}

// NewLeash returns a leash that does not hold yet.
func NewLeash(clock *sim.Clock) *Leash {
	return &Leash{clock: clock, last: map[capture.ChannelID]capture.Instant{}}
}

// Consume lengthens the leash with every reading.
func (l *Leash) Consume(rec capture.Record) {
	if _, moved := rec.Item.(capture.Placement); moved {
		clear(l.last) // a meter that is set to something else is not waited for
	}
	r, ok := rec.Item.(capture.Reading)
	if !ok || r.Channel.Input() != volts.Input() || r.Channel.Instrument() == sim.Supply {
		return
	}
	l.last[r.Channel] = rec.At
	if !l.on.Load() {
		return
	}
	slowest := rec.At
	for _, at := range l.last {
		slowest = min(slowest, at)
	}
	l.clock.Leash(slowest.Add(slack))
}
