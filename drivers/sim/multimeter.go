package sim

import (
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"steadyrail/capture"
)

// multimeter is a 6½-digit bench meter with two leads.
type multimeter struct {
	device
	probe
	noise *rand.Rand

	volts, ohms, fourWire function
	active                *function
	highImpedance         bool // above 10 gigaohm on the ranges to 10 V
	autoZero              bool
	count                 int
	lastAnswer            string
}

// function is one measuring function with its own settings.
type function struct {
	name      string // as FUNC? and CONF? say it
	unit      string
	ranges    []float64
	amps      []float64 // test current per range; nil for volts
	auto      bool
	at        int     // index of the range
	cycles    float64 // aperture in power line cycles
	null      bool
	nullValue float64
	gain      float64 // what this meter is wrong by, part of reading
	offset    float64 // part of the lowest range
	overload  uint16  // its bit in the questionable register
}

const (
	lineCycle    = 20 * time.Millisecond // 50 Hz
	overScale    = 1.2                   // of the range is still shown
	underScale   = 0.1                   // of the range: auto range goes down
	rangePause   = 300 * time.Millisecond
	answerLag    = 2 * time.Millisecond
	compliance   = 12.0 // V at which the ohms input is overloaded
	maxPerRead   = 512
	overloadText = "+9.90000000E+37"
)

var (
	voltRanges = []float64{0.1, 1, 10, 100, 1000}
	ohmRanges  = []float64{100, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}
	testAmps   = []float64{1e-3, 1e-3, 1e-4, 1e-5, 5e-6, 5e-7, 5e-7}
)

func newMultimeter(b *Bench, name, identity string, seed uint64) *multimeter {
	r := stream(seed, name+" noise")
	m := &multimeter{
		device: device{name: name, identity: identity, bench: b, autoOff: b.scenario.AutoOff[name], awake: b.world.now},
		probe:  newProbe(stream(seed, name+" contact"), b.scenario.Leads),
		noise:  r,
	}
	character := stream(seed, name+" calibration")
	make := func(name, unit string, ranges, amps []float64, bit uint16) function {
		return function{name: name, unit: unit, ranges: ranges, amps: amps, overload: bit,
			gain: between(character, -2e-5, 2e-5), offset: between(character, -5e-6, 5e-6)}
	}
	m.volts = make("VOLT", "V", voltRanges, nil, 1<<0)
	m.ohms = make("RES", "OHM", ohmRanges, testAmps, 1<<9)
	m.fourWire = make("FRES", "OHM", ohmRanges, testAmps, 1<<9)
	m.device.reset = m.powerOn
	m.commands = compile(append(commonCommands(), m.tree()...))
	m.powerOn()
	m.status.esr = eventPowerOn
	return m
}

// powerOn is the state after switching on and after *RST.
func (m *multimeter) powerOn() {
	for _, f := range []*function{&m.volts, &m.ohms, &m.fourWire} {
		f.toDefault()
	}
	m.active, m.highImpedance, m.autoZero, m.count, m.lastAnswer = &m.volts, false, true, 1, ""
	m.pushCurrent()
}

// toDefault is what CONFigure does to a function: auto range, ten line cycles,
// and the null lost.
func (f *function) toDefault() {
	f.auto, f.at, f.cycles, f.null, f.nullValue = true, 2, 10, false, 0
}

func (f *function) span() float64 { return f.ranges[f.at] }

// setRange fixes the smallest range that shows v.
func (f *function) setRange(v float64) *scpiError {
	for i, r := range f.ranges {
		if math.Abs(v) <= r*overScale {
			f.auto, f.at = false, i
			return nil
		}
	}
	return errOutOfRange
}

func (f *function) aperture() time.Duration {
	return time.Duration(f.cycles * float64(lineCycle))
}

// resolution is one count of the last digit.
func (f *function) resolution() float64 {
	if f.cycles >= 1 {
		return f.span() * 1e-6
	}
	return f.span() * 1e-5
}

// pushCurrent tells the model which test current the meter drives where.
func (m *multimeter) pushCurrent() {
	w := m.bench.world
	delete(w.inject, m.name)
	c := m.present(w.now)
	if m.active.amps == nil || !c.made || c.at < 0 || m.asleep {
		return
	}
	w.inject[m.name] = injection{at: c.at, amps: c.sign() * m.active.amps[m.active.at]}
	w.lookClosely()
}

func (m *multimeter) putOn(at node, hold capture.Hold) {
	made := m.touch(m.bench.world.now, at, hold)
	m.pushCurrent()
	m.bench.world.schedule(made, m.pushCurrent)
}

func (m *multimeter) takeOff() {
	m.lift(m.bench.world.now)
	m.pushCurrent()
}

// measure takes as many readings as the count says.
func (m *multimeter) measure(c *call) (string, *scpiError) {
	texts := make([]string, 0, m.count)
	for range m.count {
		text := m.one(c)
		if c.gone {
			return "", nil
		}
		texts = append(texts, text)
	}
	m.lastAnswer = strings.Join(texts, ",")
	return m.lastAnswer, nil
}

// one takes a reading: it looks for the aperture, changes its range as often
// as it must, and answers after its lag.
func (m *multimeter) one(c *call) string {
	f := m.active
	for {
		if m.autoZero && !c.wait(f.aperture()) {
			return ""
		}
		from := m.bench.clock.Now()
		if !c.wait(f.aperture()) {
			return ""
		}
		m.bench.catchUp()
		v, over := m.look(f, from, from.Add(f.aperture()))
		if f.auto && f.otherRange(v, over) {
			m.pushCurrent()
			if !c.wait(rangePause) {
				return ""
			}
			continue
		}
		c.wait(answerLag)
		return m.say(f, v, over)
	}
}

// look returns the mean over the aperture as this meter sees it.
func (m *multimeter) look(f *function, from, to capture.Instant) (v float64, over bool) {
	past := m.bench.world.past
	if f.amps == nil {
		v = m.probe.volts(past, from, to, m.highImpedance && f.span() <= 10)
	} else {
		var volts float64
		if v, volts, over = m.ohmsSeen(past, from, to, f.amps[f.at]); over {
			return math.Inf(1), true
		}
		if f == &m.fourWire {
			v = volts / f.amps[f.at]
		}
		over = math.Abs(volts) > compliance
	}
	v += v*f.gain + f.offset*f.ranges[0]
	v += f.span() * 4e-7 / math.Sqrt(math.Max(f.cycles, 0.02)) * m.noise.NormFloat64()
	return v, over || math.Abs(v) > f.span()*overScale
}

// otherRange moves a function in auto range up or down when it must.
func (f *function) otherRange(v float64, over bool) bool {
	switch {
	case over && f.at < len(f.ranges)-1:
		f.at++
	case !over && math.Abs(v) < f.span()*underScale && f.at > 0:
		f.at--
	default:
		return false
	}
	return true
}

func (m *multimeter) say(f *function, v float64, over bool) string {
	q := &m.status.questionable
	if over {
		q.update(q.condition|f.overload, 0)
		if v < 0 {
			return "-" + overloadText[1:]
		}
		return overloadText
	}
	q.update(q.condition&^f.overload, 0)
	if f.null {
		v -= f.nullValue
	}
	return scaled(v, f.span(), f.resolution())
}
