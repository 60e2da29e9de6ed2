package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// sparse are registers by number; a stretch with a hole in it cannot be read.
type sparse map[int]uint16

func (s sparse) stretch(from, count int) ([]uint16, byte) {
	out := make([]uint16, count)
	for i := range out {
		v, ok := s[from+i]
		if !ok {
			return nil, noRegister
		}
		out[i] = v
	}
	return out, 0
}

// text lays two characters into each register, zeros behind it.
func (s sparse) text(at, words int, text string) {
	b := append([]byte(text), make([]byte, 2*words)...)
	for i := range words {
		s[at+i] = uint16(b[2*i])<<8 | uint16(b[2*i+1])
	}
}

// count is a value in counts of a step, held inside a register.
func count(v, step float64) uint16 {
	return uint16(math.Max(0, math.Min(math.MaxUint16, math.Round(v/step))))
}

// serialByRegisters is what the supply says by registers: the same box answers
// SCPI under another number.
const serialByRegisters = 240021

// registerSupply is the bench's supply behind registers.
type registerSupply struct {
	bench *Bench
	noise *rand.Rand
}

func (u *registerSupply) source() *source { return &u.bench.world.supply }

// The writable registers.
const (
	regOutput = 32 + iota
	regVolts
	regAmperes
	regOverVolts
	regOverAmps
)

// set are the set-points: where they are kept, a count, and the most.
func (u *registerSupply) set(register int) (at *float64, step, most float64) {
	s := u.source()
	switch register {
	case regVolts:
		return &s.vset, 0.001, maxVolts
	case regAmperes:
		return &s.iset, 0.001, maxAmps
	case regOverVolts:
		return &s.ovp, 0.01, maxOverVolts
	case regOverAmps:
		return &s.ocp, 0.01, maxOverAmps
	}
	return nil, 0, 0
}

func (u *registerSupply) read(function byte, from, n int) ([]uint16, byte) {
	s := u.source()
	on := uint16(0)
	if s.on {
		on = 1
	}
	switch function {
	case 1:
		return sparse{0: on}.stretch(from, n)
	case 4:
		return nil, noRegister
	}
	r := sparse{4: serialByRegisters >> 16, 5: serialByRegisters & 0xFFFF, regOutput: on, 18: u.status(on)}
	r.text(0, 4, "SIM-MPSU")
	r[16] = count(u.bench.seen(nSupply, s.v)+voltsNoise*u.noise.NormFloat64(), 0.01)
	r[17] = count(s.i+ampsNoise*u.noise.NormFloat64(), 0.001)
	for reg := regVolts; reg <= regOverAmps; reg++ {
		at, step, _ := u.set(reg)
		r[reg] = count(*at, step)
	}
	return r.stretch(from, n)
}

func (u *registerSupply) status(on uint16) uint16 {
	s := u.source()
	bits := on
	for i, set := range []bool{s.on && s.limiting, s.ovTrip, s.ocTrip} {
		if set {
			bits |= 2 << i
		}
	}
	return bits
}

// write checks everything before it changes anything.
func (u *registerSupply) write(function byte, from int, values []uint16) byte {
	if function == 5 {
		if from != 0 {
			return noRegister
		}
		return u.throw(values[0] != 0)
	}
	for i, v := range values {
		at, step, most := u.set(from + i)
		switch {
		case from+i == regOutput && v > 1, at != nil && float64(v)*step > most+step/2:
			return noValue
		case from+i != regOutput && at == nil:
			return noRegister
		}
	}
	for i, v := range values {
		if at, step, _ := u.set(from + i); at != nil {
			*at = float64(v) * step
		} else if code := u.throw(v == 1); code != 0 {
			return code
		}
	}
	u.bench.world.lookClosely()
	return 0
}

// throw switches; a trip has to be cleared at the panel first.
func (u *registerSupply) throw(on bool) byte {
	s := u.source()
	u.bench.world.lookClosely()
	switch {
	case !on:
		s.switchOff()
	case s.ovTrip || s.ocTrip:
		return unitFails
	default:
		s.on = true
	}
	return 0
}

// registerMeter is a panel meter that is wired to a point.
type registerMeter struct {
	bench  *Bench
	at     node
	serial string
	gain   float64
	noise  *rand.Rand
}

// registerLag is what a unit takes from reading its registers to its answer.
const registerLag = 4 * time.Millisecond

// What the panel meter is like.
const (
	panelAperture = 100 * time.Millisecond
	panelStep     = 0.0001
	panelFull     = 60.0
	panelOver     = math.MaxInt32
	panelNoise    = 0.00008
)

func newRegisterMeter(b *Bench, seed uint64, at node, serial string) *registerMeter {
	r := stream(seed, "panel meter "+serial)
	return &registerMeter{bench: b, at: at, serial: serial, gain: 1 + between(r, -3e-4, 3e-4), noise: r}
}

func (u *registerMeter) read(function byte, from, n int) ([]uint16, byte) {
	r := sparse{}
	switch function {
	case 3:
		r.text(100, 4, "SIM-MVM")
		r.text(104, 4, u.serial)
	case 4:
		v := u.counts()
		r[0], r[1] = uint16(v>>16), uint16(v)
		warm := math.Float32bits(float32(u.bench.world.last[nRoom] + 4))
		r[4], r[5] = uint16(warm), uint16(warm>>16)
	default:
		return nil, noFunction
	}
	return r.stretch(from, n)
}

// counts is the mean over the newest aperture that has ended. The meter measures
// without end, one aperture after the other, whoever asks.
func (u *registerMeter) counts() uint32 {
	w := u.bench.world
	now := u.bench.clock.Now()
	to := now.Add(-(now.Sub(w.start) % panelAperture))
	from := max(w.start, to.Add(-panelAperture))
	v := w.past.mean(u.at, from, to)*u.gain + panelNoise*u.noise.NormFloat64()
	if math.Abs(v) > panelFull {
		return panelOver
	}
	return uint32(int32(math.Round(v / panelStep)))
}

func (u *registerMeter) write(byte, int, []uint16) byte { return noFunction }
