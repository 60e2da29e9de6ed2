package sim

import (
	"fmt"
	"sort"
	"strings"
	"time"
)

// Script is a list of faults with their times, counted from [Bench.Play].
type Script struct {
	steps []step
}

type step struct {
	at    time.Duration
	fault fault
	args  args
}

// Len returns how many faults the script holds.
func (s Script) Len() int { return len(s.steps) }

// ParseScript reads a fault script: a fault a line, with its time. Empty lines
// and what follows a # are ignored.
//
//	# the soak
//	at 2h10m input joint 1.8s
//	at 2h40m link down dmm2
//
// Every error names the line; faults are checked with their arguments.
func ParseScript(text string) (Script, error) {
	var s Script
	for i, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		st, err := parseStep(words)
		if err != nil {
			return Script{}, fmt.Errorf("fault script, line %d: %w", i+1, err)
		}
		s.steps = append(s.steps, st)
	}
	sort.SliceStable(s.steps, func(i, j int) bool { return s.steps[i].at < s.steps[j].at })
	return s, nil
}

func parseStep(words []string) (step, error) {
	if words[0] != "at" || len(words) < 3 {
		return step{}, fmt.Errorf("write \"at TIME FAULT\", such as \"at 2h10m input joint 1.8s\"")
	}
	at, err := time.ParseDuration(words[1])
	if err != nil || at < 0 {
		return step{}, fmt.Errorf("%q is no time: write 90s, 10m or 2h10m", words[1])
	}
	f, rest, err := faultOf(words[2:])
	if err != nil {
		return step{}, err
	}
	a, err := f.read(rest)
	return step{at: at, fault: f, args: a}, err
}

// faultOf finds the fault that the words begin with, the longest name first.
func faultOf(words []string) (fault, []string, error) {
	for n := min(len(words), 3); n > 0; n-- {
		if f, err := findFault(strings.Join(words[:n], " ")); err == nil {
			return f, words[n:], nil
		}
	}
	_, err := findFault(words[0])
	return fault{}, nil, err
}

// Play lets a script happen from now on. What is done to the model happens at
// exactly its bench time; what is done to a link happens as soon as that has
// come. Several scripts may play at once; [Bench.Close] ends them.
func (b *Bench) Play(s Script) {
	var links []step
	b.mu.Lock()
	b.catchUp()
	start := b.world.now
	for _, st := range s.steps {
		if st.fault.link != nil {
			links = append(links, st)
			continue
		}
		b.world.schedule(start.Add(st.at), func() { st.fault.model(b, st.args) })
	}
	b.mu.Unlock()
	if len(links) == 0 {
		return
	}
	b.life.Lock()
	defer b.life.Unlock()
	if b.closed {
		return
	}
	b.players.Add(1)
	go b.playLinks(links)
}

// playLinks owns no more than the order of its steps.
func (b *Bench) playLinks(steps []step) {
	defer b.players.Done()
	start := b.clock.Now()
	for _, st := range steps {
		if !sleep(b.clock, start.Add(st.at).Sub(b.clock.Now()), b.stop) {
			return
		}
		// A link that cannot be plugged again stays down, which is a fault too.
		_ = b.happen(st.fault, st.args)
	}
}
