package sim

import (
	"errors"
	"fmt"
)

// ErrFault is wrapped when a fault is not known or its arguments are wrong.
var ErrFault = errors.New("no such fault")

// FaultInfo describes a fault for people.
type FaultInfo struct {
	Name  string `json:"name"`
	Usage string `json:"usage"` // name with its arguments; brackets: may be left out
	Says  string `json:"says"`  // what it does
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
		{"clear", nil, "joint, short, load step, welded relay and what the supply does not know are gone", clearFault, nil},
		{"meter asleep", []param{instrument}, "it switches itself off: no answer", asleepFault, nil},
		{"meter awake", []param{instrument}, "it is switched on again", awakeFault, nil},
		{"relay welded", []param{{argDuration, forGood}}, "the supply's output stays as it is and reads back so, whatever it is told", weldFault, nil},
		{"no guard switch", nil, "the supply does not know the switches of its protections: -113", noGuardSwitchFault, nil},
		{"guard stays off", nil, "the supply's over-current protection stays off and reads back so, whatever it is told", guardStaysOffFault, nil},
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
