package sim

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// ErrFault is wrapped when a fault is not known or its arguments are wrong.
var ErrFault = errors.New("no such fault")

// FaultInfo describes a fault for people.
type FaultInfo struct {
	Name  string `json:"name"`
	Usage string `json:"usage"` // name with its arguments; brackets: may be left out
	Says  string `json:"says"`  // what it does
}

// argument kinds of a fault.
type argKind uint8

const (
	argDuration argKind = iota
	argOhms
	argAmps
	argCelsius
	argInstrument
	argCount
)

type param struct {
	kind argKind
	def  string // used when left out; empty: must be there
}

var argWords = map[argKind]string{
	argDuration: "DURATION", argOhms: "OHMS", argAmps: "AMPERES", argCelsius: "CELSIUS", argInstrument: "INSTRUMENT", argCount: "COUNT",
}

// args are the arguments of a fault, read.
type args struct {
	duration   time.Duration
	value      float64
	instrument []string
	count      int
}

// fault is an entry of the table. A fault is either done to the model, at an
// exact bench instant, or to a link, as soon as it can be.
type fault struct {
	name   string
	params []param
	says   string
	model  func(b *Bench, a args)
	link   func(b *Bench, a args) error
}

// forGood is longer than any soak.
const forGood = "8760h"

func faultTable() []fault {
	instrument, count := param{kind: argInstrument}, param{argCount, "1"}
	list := []fault{
		{"input joint", []param{{kind: argDuration}, {argOhms, "200"}},
			"the joint at the stand-in's input opens to so many ohm for so long", jointFault, nil},
		{"short +5 V", []param{{kind: argOhms}, {argDuration, forGood}},
			"so many ohm from +5 V logic to the return", shortFault, nil},
		{"load step", []param{{kind: argAmps}, {argDuration, forGood}},
			"the logic draws so many ampere more", loadFault, nil},
		{"room", []param{{kind: argCelsius}}, "the room's mean temperature changes", roomFault, nil},
		{"clear", nil, "joint, short, load step and welded relay are gone", clearFault, nil},
		{"meter asleep", []param{instrument}, "it switches itself off: no answer", asleepFault, nil},
		{"meter awake", []param{instrument}, "it is switched on again", awakeFault, nil},
		{"relay welded", []param{{argDuration, forGood}}, "the supply's output stays as it is and reads back so, whatever it is told", weldFault, nil},
		{"link down", []param{instrument}, "its cable is pulled", nil, linkDown},
		{"link up", []param{instrument}, "its cable is put back", nil, linkUp},
		{"swap links", []param{instrument, instrument}, "two cables are pulled and put back into each other's place", nil, swapLinks},
		{"late", []param{instrument, {kind: argDuration}, count}, "answers come so much later, in wall time", lateFault, nil},
	}
	for _, m := range []struct{ name, says string }{
		{"garble", "answers arrive with wrong bits"},
		{"echo", "the request comes back before the answer"},
		{"split", "answers arrive in two pieces"},
		{"mute", "no answers"},
		{"cut", "answers stop half way, without terminator"},
		{"flood", "ten thousand characters instead of an answer"},
		{"stale", "the previous answer is sent once more before the right one"},
		{"nan", "the answer is 9.91E37, not a number"},
	} {
		list = append(list, fault{m.name, []param{instrument, count}, m.says + ", so many times", mischief(m.name), nil})
	}
	return list
}

func (f fault) info() FaultInfo {
	usage := f.name
	for _, p := range f.params {
		word := argWords[p.kind]
		if p.def != "" {
			word = "[" + word + "]"
		}
		usage += " " + word
	}
	return FaultInfo{Name: f.name, Usage: usage, Says: f.says}
}

// Faults lists the faults that [Bench.Fault], a [Script] and the fault handler
// know.
func Faults() []FaultInfo {
	var out []FaultInfo
	for _, f := range faultTable() {
		out = append(out, f.info())
	}
	return out
}

func findFault(name string) (fault, error) {
	for _, f := range faultTable() {
		if f.name == name {
			return f, nil
		}
	}
	return fault{}, fmt.Errorf("%w %q: see the list of faults", ErrFault, name)
}

// read checks words against the parameters.
func (f fault) read(words []string) (args, error) {
	var a args
	if len(words) > len(f.params) {
		return a, fmt.Errorf("%w: %s takes at most %d arguments: %s", ErrFault, f.name, len(f.params), f.info().Usage)
	}
	for i, p := range f.params {
		word := p.def
		if i < len(words) {
			word = words[i]
		}
		if word == "" {
			return a, fmt.Errorf("%w: %s lacks %s: %s", ErrFault, f.name, argWords[p.kind], f.info().Usage)
		}
		if err := a.readOne(p.kind, word); err != nil {
			return a, fmt.Errorf("%w: %s: %s %v", ErrFault, f.name, argWords[p.kind], err)
		}
	}
	return a, nil
}

func (a *args) readOne(kind argKind, word string) error {
	var err error
	switch kind {
	case argDuration:
		a.duration, err = time.ParseDuration(word)
		if err == nil && a.duration < 0 {
			err = fmt.Errorf("%q is before now", word)
		}
	case argInstrument:
		if !known(word, Instruments()) {
			return fmt.Errorf("%q is none of %q", word, Instruments())
		}
		a.instrument = append(a.instrument, word)
	case argCount:
		a.count, err = strconv.Atoi(word)
		if err == nil && (a.count < 1 || a.count > 1_000_000) {
			err = fmt.Errorf("%q is not between 1 and 1000000", word)
		}
	default:
		a.value, err = readFaultNumber(kind, word)
	}
	return err
}

func readFaultNumber(kind argKind, word string) (float64, error) {
	unit := map[argKind]string{argOhms: "ohm", argAmps: "A", argCelsius: "C"}[kind]
	lo, hi := 1e-3, 1e9
	switch kind {
	case argAmps:
		lo, hi = -100, 100
	case argCelsius:
		lo, hi = -40, 85
	}
	v, err := strconv.ParseFloat(strings.TrimSuffix(word, unit), 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number", word)
	}
	if !(v >= lo && v <= hi) {
		return 0, fmt.Errorf("%q is not between %g and %g", word, lo, hi)
	}
	return v, nil
}

// Fault makes a fault happen now. Arguments are text, as in a script:
//
//	bench.Fault("input joint", "1.8s")
//	bench.Fault("late", "dmm", "800ms", "3")
//
// A fault that is not known, or wrong arguments, wrap [ErrFault].
func (b *Bench) Fault(name string, words ...string) error {
	f, err := findFault(name)
	if err != nil {
		return err
	}
	a, err := f.read(words)
	if err != nil {
		return err
	}
	return b.happen(f, a)
}

func (b *Bench) happen(f fault, a args) error {
	if f.link != nil {
		b.life.Lock()
		defer b.life.Unlock()
		if !b.started || b.closed {
			return fmt.Errorf("%s: the bench is not running", f.name)
		}
		return f.link(b, a)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	f.model(b, a)
	b.world.lookClosely()
	return nil
}

func jointFault(b *Bench, a args) { b.world.openJoint(a.duration, a.value) }

func shortFault(b *Bench, a args) {
	w := b.world
	w.shortOhms, w.shortUntil = a.value, w.now.Add(a.duration)
	w.schedule(w.shortUntil, func() {})
}

func loadFault(b *Bench, a args) {
	w := b.world
	w.load.extra = a.value
	w.loadOrdinal++
	mine := w.loadOrdinal
	w.schedule(w.now.Add(a.duration), func() {
		if w.loadOrdinal == mine {
			w.load.extra = 0
		}
	})
}

func roomFault(b *Bench, a args) { b.world.scenario.Room = a.value }

func weldFault(b *Bench, a args) {
	w := b.world
	w.supply.weldedUntil = w.now.Add(a.duration)
}

func clearFault(b *Bench, _ args) {
	w := b.world
	w.supply.weldedUntil = 0
	w.jointUntil, w.shortUntil, w.load.extra = 0, 0, 0
	w.loadOrdinal++
}

func asleepFault(b *Bench, a args) {
	b.device(a.instrument[0]).asleep = true
	if m := b.meters[a.instrument[0]]; m != nil {
		m.pushCurrent()
	}
}

func awakeFault(b *Bench, a args) {
	b.device(a.instrument[0]).wake()
	if m := b.meters[a.instrument[0]]; m != nil {
		m.pushCurrent()
	}
}

func mischief(kind string) func(*Bench, args) {
	return func(b *Bench, a args) { b.taps[a.instrument[0]].ask(kind, a.count, 0) }
}

func lateFault(b *Bench, a args) {
	b.taps[a.instrument[0]].ask("late", a.count, a.duration)
}

func linkDown(b *Bench, a args) error {
	b.servers[a.instrument[0]].unplug()
	return nil
}

func linkUp(b *Bench, a args) error { return b.servers[a.instrument[0]].plug() }

// swapLinks leaves each link string where it was and puts the other instrument
// behind it: what a replug does to port names.
func swapLinks(b *Bench, a args) error {
	one, two := b.servers[a.instrument[0]], b.servers[a.instrument[1]]
	one.unplug()
	two.unplug()
	one.dev, two.dev = two.dev, one.dev
	one.tap, two.tap = two.tap, one.tap
	return errors.Join(one.plug(), two.plug())
}
