package sim

import "errors"

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

func noGuardSwitchFault(b *Bench, _ args) { b.world.supply.noSwitch = true }

func guardStaysOffFault(b *Bench, _ args) {
	b.world.supply.ocpOn, b.world.supply.staysOff = false, true
}

func clearFault(b *Bench, _ args) {
	w := b.world
	w.supply.weldedUntil = 0
	w.supply.noSwitch, w.supply.staysOff = false, false
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
