package diagnose

import (
	"cmp"
	"slices"

	"steadyrail/capture"
)

// Step is something to do and then measure.
type Step struct {
	Do      Verb    `json:"do,omitempty"`
	Part    string  `json:"part,omitempty"`
	At      Point   `json:"measure"`
	Minutes float64 `json:"minutes"`
	Bits    float64 `json:"bits"` // expected drop of entropy
	Say     string  `json:"say"`
}

// leastBits is the gain below which a measurement is not worth a minute.
const leastBits = 0.01

// next returns the safe step with the most bits per minute, nil when none tells
// anything any more.
func (g *Engine) next(p []float64, log []Entry) *Step {
	steps := g.Steps(log)
	var off stand
	for _, e := range log {
		off = off.after(e)
	}
	for i := range steps {
		s := &steps[i]
		t := g.foresee(s.At, off.after(Entry{Verb: s.Do, Part: s.Part}))
		s.Bits = gain(t.together(p), t.p, t.h)
	}
	steps = slices.DeleteFunc(steps, func(s Step) bool { return s.Bits < leastBits })
	if len(steps) == 0 {
		return nil
	}
	best := slices.MaxFunc(steps, func(a, b Step) int { return cmp.Compare(a.Bits/a.Minutes, b.Bits/b.Minutes) })
	best.Say = g.board.sayStep(best, off)
	return &best
}

// plan gathers the steps that are safe and were not made yet.
type plan struct {
	board Board
	log   []Entry
	off   stand
	done  []string
	out   []Step
}

// Steps lists what may be done next: unsafe steps and those made already are
// left out. Nothing on the mains side is ever asked for.
func (g *Engine) Steps(log []Entry) []Step {
	p := &plan{board: g.board, log: log}
	for _, e := range log {
		if p.off = p.off.after(e); e.Verb == "" {
			p.done = append(p.done, g.board.key(e.At, p.off, g.board.touched))
		}
	}
	for _, r := range g.board.Rails {
		if r.Side != capture.Mains {
			p.rail(r.Name)
		}
	}
	for _, part := range g.board.removables() {
		p.part(part)
	}
	p.others()
	return p.out
}

func (p *plan) offer(do Verb, part string, at Point, minutes float64) {
	if r, is := p.board.Rail(at.Subject); is && r.Side == capture.Mains {
		return
	}
	off := p.off.after(Entry{Verb: do, Part: part})
	if !slices.Contains(p.done, p.board.key(at, off, p.board.touched)) {
		p.out = append(p.out, Step{Do: do, Part: part, At: at, Minutes: minutes})
	}
}

func (p *plan) rail(rail string) {
	p.offer("", "", Point{Where: Ohms, Subject: rail}, minutesProbe)
	if p.live(p.off) {
		p.offer("", "", Point{Where: Volts, Subject: rail}, minutesProbe)
		p.offer("", "", Point{Where: Volts, Subject: rail, Hot: true}, minutesProbe+minutesWarm)
	}
	on := p.board.connectorsOn(rail)
	if p.live(p.off.remove(on...)) {
		p.offer("", "", Point{Where: SourceAlone, Subject: rail}, minutesHookUp+float64(minutesUnplug*float64(len(on))))
	}
}

// part offers to take a part off, or to put it back, and to read its rails.
func (p *plan) part(part string) {
	minutes, _ := p.board.removable(part)
	do, off := Remove, p.off.remove(part)
	if p.off.without(part) {
		do, off = PutBack, p.off.putBack(part)
		if !slices.Contains(p.board.Connectors(), part) {
			p.offer("", "", Point{Where: Alone, Subject: part}, minutesProbe)
		}
	}
	for _, rail := range p.board.railsOf(part) {
		p.offer(do, part, Point{Where: Ohms, Subject: rail}, minutes+minutesProbe)
		if p.live(off) {
			p.offer(do, part, Point{Where: Volts, Subject: rail}, minutes+minutesProbe)
		}
	}
}

func (p *plan) others() {
	for _, l := range p.board.Loads {
		if r, _ := p.board.Rail(l.Rail); l.Connector != "" && r.Side != capture.Mains {
			p.offer("", "", Point{Where: LoadAlone, Subject: l.Name}, minutesHookUp+minutesUnplug)
		}
	}
	for _, c := range p.board.Converters {
		if c.Inductor != "" && !p.off.without(c.Name) {
			p.offer("", "", Point{Where: Across, Subject: c.Name}, minutesProbe)
		}
		if c.Enable != "" && !p.off.without(c.Name) && p.live(p.off) {
			p.offer("", "", Point{Where: Enabled, Subject: c.Name}, minutesProbe)
		}
	}
	for _, c := range p.board.Connectors() {
		if !p.off.without(c) && p.live(p.off) {
			p.offer("", "", Point{Where: Behind, Subject: c}, minutesProbe)
		}
	}
}

// live reports whether power may go on with these parts off: of every rail the
// last resistance that was read with at least as much on the board was no short.
func (p *plan) live(off stand) bool {
	for _, r := range p.board.Rails {
		if r.Side != capture.Mains && !p.clear(r, off) {
			return false
		}
	}
	return true
}

func (p *plan) clear(r capture.Rail, off stand) bool {
	clear := false
	var then stand
	for _, e := range p.log {
		then = then.after(e)
		if e.At.Where == Ohms && e.At.Subject == r.Name && p.relevant(then, r.Name).within(off) {
			clear = e.Value >= r.ShortBelow
		}
	}
	return clear
}

// relevant keeps the parts off the board that touch the rail.
func (p *plan) relevant(off stand, rail string) stand {
	return slices.DeleteFunc(slices.Clone(off), func(part string) bool {
		return !slices.Contains(p.board.railsOf(part), rail)
	})
}

// minutes reckons the work of a log.
func (b Board) minutes(log []Entry) float64 {
	var sum float64
	for _, e := range log {
		switch {
		case e.Verb != "":
			m, _ := b.removable(e.Part)
			sum += m
		case e.At.Where == SourceAlone, e.At.Where == LoadAlone:
			sum += minutesHookUp
		case e.At.Where != Says:
			sum += minutesProbe
		}
		if e.At.Hot {
			sum += minutesWarm
		}
	}
	return sum
}
