package walk

import (
	"strings"

	"steadyrail/capture"
)

// technician moves the probe of a testBench, sees the screen, and errs.
type technician struct {
	b      *testBench
	errs   bool
	points bool // takes the times of the keystroke-level model from point to point
	step   Step
	seen   bool
	plan   []move // what the hand does next
	wait   capture.Instant
	idle   capture.Instant // how long nothing came of it
	wrong  bool            // on another rail, and will notice with the beep
	press  bool            // pressed for this touch already
	beep   capture.Instant // heard last
	stats  map[string]int
}

// move is one thing that a hand does.
type move struct {
	after    capture.Instant
	node     int
	reversed bool
	wrong    bool
}

func (t *technician) between(low, high float64) capture.Instant {
	return capture.Instant((low + (high-low)*t.b.r.Float64()) * 1e6)
}

func (t *technician) chance(p float64) bool { return t.errs && t.b.r.Float64() < p }

func (t *technician) count(what string) { t.stats[what]++ }

func (t *technician) railOf(s Step) int {
	for i, r := range t.b.setup.Rails {
		if r.Name == s.Rail {
			return i
		}
	}
	return open
}

// look decides every 10 ms.
func (t *technician) look() {
	m := t.b.m
	if m.state == over || m.state == done && !t.wrong {
		return
	}
	if t.seen && m.lastAt != t.beep {
		t.beep = m.lastAt
		if t.wrong { // the beep came, and it was the wrong point
			t.wrong = false
			t.plan = nil
			t.wait = t.b.now + t.between(0.2, 0.7)
			t.step = m.step
			t.count("taken back")
			p := Short
			if m.state != lifting && m.state != done {
				p = Back
			}
			t.b.carry(m.Press(t.b.now, p))
			t.seen = false
			return
		}
		if m.figures[m.last].AtLeast {
			t.count("at least")
			if m.state == lifting && t.chance(0.3) { // the steady figure is wanted
				t.count("waited for")
				t.b.carry(m.Press(t.b.now, Short))
			}
		}
	}
	if !t.seen || m.step != t.step {
		t.step, t.seen, t.press, t.idle = m.step, true, false, 0
		t.approach()
	}
	if len(t.plan) > 0 && t.b.now >= t.wait {
		t.do()
	}
	t.idle += 10 * ms
	if strings.HasPrefix(m.note, "charging") {
		t.idle = 0 // the screen says how long: it is waited for
	}
	t.confirm()
	if len(t.plan) == 0 && t.idle > 2_500*ms && m.state == lifting && t.b.at(t.b.now).node != open {
		t.count("had to lift longer") // the screen says: lift
		t.idle = 0
		t.b.move(open, false)
	}
	if len(t.plan) == 0 && t.b.at(t.b.now).node == open && m.state == touching && t.idle > 300*ms {
		t.approach()
		t.idle = 0
	}
	if len(t.plan) == 0 && t.idle > 9_000*ms { // nothing comes of it: off, and again
		t.idle, t.press = 0, false
		t.count("tried again")
		t.approach()
	}
}

func (t *technician) do() {
	mv := t.plan[0]
	t.plan = t.plan[1:]
	t.b.move(mv.node, mv.reversed)
	t.wrong = mv.wrong
	if len(t.plan) > 0 {
		t.wait = t.b.now + t.plan[0].after
	}
}

// confirm presses the pedal where the screen says that nothing is to be seen.
func (t *technician) confirm() {
	m := t.b.m
	on := t.b.at(t.b.now)
	if m.state != touching || t.press || len(t.plan) > 0 || on.node != t.railOf(m.step) || on.reversed != m.step.Reversed || t.b.now-on.at < 900*ms {
		return
	}
	if m.now-m.heard > 300*ms || !m.clear {
		return
	}
	t.press, t.idle = true, 0
	t.b.carry(m.Press(t.b.now, Short))
}

// approach plans the way from here to the rail that is asked for.
func (t *technician) approach() {
	right := t.railOf(t.step)
	t.plan = nil
	if on := t.b.at(t.b.now); on.node != open && on.node != right {
		t.wrong = true // still on another: the beep would tell
	}
	if t.b.at(t.b.now).node != open {
		first := t.between(0.25, 0.5)
		if t.chance(0.1) {
			first += t.between(1, 4)
			t.count("stayed on")
		}
		t.plan = append(t.plan, move{after: first, node: open})
	}
	way := t.between(0.5, 1.2)
	if t.points {
		way = t.between(klmLeast, klmMost)
	}
	if t.chance(0.08) {
		t.count("wrong touch")
		t.touch(way, t.other(right), true)
		t.plan = append(t.plan, move{after: t.between(0.05, 0.45), node: open})
		way = t.between(0.3, 0.9)
	}
	if t.chance(0.04) {
		t.count("wrong until the beep")
		t.touch(way, t.other(right), true)
		t.wait = t.b.now + t.plan[0].after
		return
	}
	if t.chance(0.1) {
		t.count("early lift")
		t.touch(way, right, false)
		t.plan = append(t.plan, move{after: t.between(0.1, 1.5), node: open})
		way = t.between(0.1, 0.8)
	}
	if t.chance(0.06) {
		t.count("slid off")
		t.touch(way, right, false)
		t.plan = append(t.plan, move{after: t.between(0.1, 1.4), node: t.other(right), reversed: t.step.Reversed, wrong: true}, move{after: t.between(0.1, 0.5), node: open})
		way = t.between(0.3, 0.9)
	}
	t.touch(way, right, false)
	t.wait = t.b.now + t.plan[0].after
}

// other is another rail.
func (t *technician) other(right int) int {
	n := len(t.b.rails)
	return (right + 1 + t.b.r.IntN(n-1)) % n
}

// touch plans a touch with its bounces.
func (t *technician) touch(after capture.Instant, node int, wrong bool) {
	for range t.b.r.IntN(4) {
		t.plan = append(t.plan, move{after: after, node: node, reversed: t.step.Reversed}, move{after: t.between(0.003, 0.06), node: open})
		after = t.between(0.003, 0.06)
	}
	t.plan = append(t.plan, move{after: after, node: node, reversed: t.step.Reversed, wrong: wrong})
}
