package sim

import (
	"math"
	"slices"
	"time"
)

// Panel is how the bench supply is set. A supply stays so when the computer
// that watches it is switched off.
type Panel struct {
	Volts      float64 `json:"volts"`      // set, V
	Amps       float64 `json:"amps"`       // current limit, A
	OverVolts  float64 `json:"over_volts"` // its protections trip there, V and A
	OverAmps   float64 `json:"over_amps"`
	VoltsGuard bool    `json:"volts_guard"` // the protection is on
	AmpsGuard  bool    `json:"amps_guard"`
	VoltsTrip  bool    `json:"volts_trip,omitempty"` // it has tripped
	AmpsTrip   bool    `json:"amps_trip,omitempty"`
	On         bool    `json:"on"`
}

// Warmth is the rise of the stand-in's case above the room in kelvin: of the
// part itself, and of what is around it.
type Warmth struct {
	Quick float64 `json:"quick"`
	Slow  float64 `json:"slow"`
}

// Standing is what a bench is left with, besides where hands put things.
type Standing struct {
	Panel  Panel  `json:"panel"`
	Warmth Warmth `json:"warmth"`
}

func (s *source) panel() Panel {
	return Panel{
		Volts: s.vset, Amps: s.iset, OverVolts: s.ovp, OverAmps: s.ocp,
		VoltsGuard: s.ovpOn, AmpsGuard: s.ocpOn, VoltsTrip: s.ovTrip, AmpsTrip: s.ocTrip, On: s.on,
	}
}

// Standing tells how the bench stands now.
func (b *Bench) Standing() Standing {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	return b.standing()
}

func (b *Bench) standing() Standing {
	h := b.world.standIn.warmth
	return Standing{Panel: b.world.supply.panel(), Warmth: Warmth{h.quick, h.slow}}
}

// Watch has f called whenever the supply is set otherwise, switched or tripped,
// by whomever. f runs under the bench's lock: it must be quick and must not call
// the bench.
func (b *Bench) Watch(f func(Standing)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	b.panelWas, b.watch = b.world.supply.panel(), f
}

// tellPanel calls who watches when the supply is set otherwise than when it was
// last told. The lock is held.
func (b *Bench) tellPanel() {
	if b.watch == nil {
		return
	}
	if now := b.world.supply.panel(); now != b.panelWas {
		b.panelWas = now
		b.watch(b.standing())
	}
}

// SetPanel sets the supply as a person before it would who knows how it stood.
func (b *Bench) SetPanel(p Panel) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	s := &b.world.supply
	s.vset, s.iset, s.ovp, s.ocp = within(p.Volts, 0, maxVolts), within(p.Amps, 0.001, maxAmps), within(p.OverVolts, 0.5, maxOverVolts), within(p.OverAmps, 0.01, maxOverAmps)
	s.ovpOn, s.ocpOn, s.ovTrip, s.ocTrip = p.VoltsGuard, p.AmpsGuard, p.VoltsTrip, p.AmpsTrip
	if s.on = p.On && !p.VoltsTrip && !p.AmpsTrip; !s.on {
		s.switchOff()
	}
	b.world.lookClosely()
}

// ClearTrips is the key at the supply that clears a protection which tripped. Its
// output stays off. It reports whether any had tripped.
func (b *Bench) ClearTrips() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	s := &b.world.supply
	had := s.ovTrip || s.ocTrip
	s.ovTrip, s.ocTrip = false, false
	b.tellPanel()
	return had
}

// within is v, or the nearer end of a range; the lower one for what is no number.
func within(v, lo, hi float64) float64 {
	if math.IsNaN(v) {
		return lo
	}
	return min(hi, max(lo, v))
}

// SetWarmth makes the stand-in as warm as it is when it was so warm some time
// ago and what it turns into heat has been what it is now.
func (b *Bench) SetWarmth(was Warmth, ago time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	w := b.world
	// No loss of the model's warms it by more than this.
	w.standIn.warmth.quick, w.standIn.warmth.slow = within(was.Quick, 0, 100), within(was.Slow, 0, 100)
	w.standIn.warmth.step(w.standIn.loss(), max(0, ago.Seconds()))
	w.bead = w.room
	if w.beadAt == nCase {
		w.bead = w.caseDegrees()
	}
}

// LiftBlade ends a turn of the trimmer at once.
func (b *Bench) LiftBlade() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	t := &b.world.standIn.trim
	t.step(trimmerTurns/turnsPerSec + 1)
	t.bladeFor = 0
}

// Later says a fault as it would be said some time after it happened: with what
// is left of the time that it lasts. It reports false when nothing is left: the
// time is over, or it was about the next few answers of an instrument.
func Later(name string, words []string, ago time.Duration) (left []string, still bool) {
	f, err := findFault(name)
	if err != nil {
		return nil, false
	}
	left = slices.Clone(words)
	for i, p := range f.params {
		if p.kind == argCount {
			return nil, false
		}
		if p.kind != argDuration || i >= len(left) {
			continue // left out: for good
		}
		d, err := time.ParseDuration(left[i])
		if err != nil || d <= ago {
			return nil, false
		}
		left[i] = (d - ago).String()
	}
	return left, true
}

// Skip lets so much bench time pass at once. Who waits for less waits no more.
func (c *Clock) Skip(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.bench, c.wall = c.elapsed()+max(0, d), time.Now()
	c.rearm()
}
