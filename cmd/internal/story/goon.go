package story

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/drivers/sim"
)

// A practice bench goes on where it was: hands have left the set as it stands,
// and a supply stays as it is set when the computer beside it is switched off.

// settling is how long the model runs before anybody looks at a bench that goes
// on: its rails have come up, and the set's logic has left its reset.
const settling = 5 * time.Second

// goingOn is what a practice bench finds in its folder.
type goingOn struct {
	journal *journal
	open    []string        // jobs that are open
	at      capture.Instant // when the bench goes on
}

// look finds out whether there is anything to go on with: a set that hands left,
// and an open job that knows of it.
func look(ctx context.Context, o Options, begins capture.Instant) (g goingOn, err error) {
	if g.journal, err = readJournal(o.Workspace); err != nil {
		return g, err
	}
	if !g.journal.has() {
		g.journal.head.Seed = o.Seed
	} else if o.Seeded && o.Seed != g.journal.head.Seed {
		return g, fmt.Errorf("the set in %s was laid out with --seed %d: leave --seed out, or take another --workspace", o.Workspace, g.journal.head.Seed)
	}
	w, err := store.OpenWorkspace(o.Workspace, store.Options{})
	if err != nil {
		return g, err
	}
	list, err := w.Jobs(ctx)
	if err = errors.Join(err, g.journal.layAside(), w.Close()); err != nil {
		return g, err
	}
	g.at = begins
	for _, s := range list {
		if s.Closed != 0 {
			continue
		}
		g.open = append(g.open, s.Job)
		at, err := awayUntil(ctx, s.Path)
		if err != nil {
			return g, err
		}
		g.at = max(g.at, at)
	}
	if n := len(g.journal.lines); n > 0 {
		g.at = max(g.at, capture.InstantOf(g.journal.lines[n-1].At).Add(time.Second))
	}
	return g, nil
}

// is reports whether the bench goes on; else a set comes in.
func (g goingOn) is() bool { return g.journal.has() && len(g.open) > 0 }

// begins is what the clock shows first.
func (g goingOn) begins() capture.Instant {
	if g.is() {
		return g.at.Add(-settling)
	}
	return g.at
}

// awayUntil is the end of an open job's record and the time on the wall since it
// was written: bench time may be ahead of the wall's, and goes on meanwhile.
func awayUntil(ctx context.Context, path string) (capture.Instant, error) {
	f, err := store.OpenFile(path)
	if err != nil {
		return 0, err
	}
	upto, err := f.Upto(ctx)
	if err = errors.Join(err, f.Close(ctx)); err != nil {
		return 0, err
	}
	var wrote time.Time
	for _, name := range []string{path, path + "-wal"} {
		if info, err := os.Stat(name); err == nil && info.ModTime().After(wrote) {
			wrote = info.ModTime()
		}
	}
	return upto.Add(max(time.Second, time.Since(wrote))), nil
}

// restore does to a fresh set what hands did to it, sets the supply as it stood,
// and lets what takes time come to its end. The clock stands settling before
// the instant at which the bench goes on.
func (h *Hands) restore(j *journal, clock *sim.Clock) error {
	var faults []journalLine
	for _, l := range j.lines {
		if len(l.Do) > 0 && l.Do[0] == "fault" {
			faults = append(faults, l)
			continue
		}
		if err := h.again(l.Do); err != nil {
			return j.wrong(fmt.Errorf("line %d: %s: %w", l.line, strings.Join(l.Do, " "), err))
		}
	}
	last := j.lines[len(j.lines)-1]
	h.bench.SetPanel(last.Stand.Panel)
	clock.Skip(settling)
	h.bench.SetWarmth(last.Stand.Warmth, clock.Now().Sub(capture.InstantOf(last.At)))
	for _, l := range faults {
		if err := h.faultAgain(l, clock); err != nil {
			return j.wrong(fmt.Errorf("line %d: %s: %w", l.line, strings.Join(l.Do, " "), err))
		}
	}
	return nil
}

// again does the words once more, as long ago.
func (h *Hands) again(words []string) error {
	if len(words) == 0 {
		return nil
	}
	if _, err := h.do(words); err != nil {
		return err
	}
	if words[0] == "turn" {
		h.bench.LiftBlade()
	}
	return nil
}

// faultAgain lets happen what is left of a fault.
func (h *Hands) faultAgain(l journalLine, clock *sim.Clock) error {
	name, args := faultOf(l.Do[1:])
	left, still := sim.Later(name, args, clock.Now().Sub(capture.InstantOf(l.At)))
	if !still {
		return nil
	}
	return h.bench.Fault(name, left...)
}

// faultOf splits words into a fault's name, which may have a space, and its
// arguments.
func faultOf(words []string) (name string, args []string) {
	known := func(n int) bool {
		return slices.ContainsFunc(sim.Faults(), func(f sim.FaultInfo) bool { return f.Name == strings.Join(words[:n], " ") })
	}
	n := len(words)
	for n > 1 && !known(n) {
		n--
	}
	return strings.Join(words[:n], " "), words[n:]
}

// keep writes down what hands did. What it returns is said behind what was done.
func (h *Hands) keep(words []string) string {
	if h.journal == nil || words[0] == "speed" {
		return ""
	}
	line := journalLine{At: h.clock.Now().Time(), Do: words, Stand: h.bench.Standing()}
	if err := errors.Join(h.journal.note(line), h.journal.sync()); err != nil {
		return fmt.Sprintf(" It could not be written down (%v): a demo that is started again will not know of it.", err)
	}
	return ""
}

// attend has everything written down from now on: what hands do, and how the
// supply is set by whomever.
func (d *Demo) attend() error {
	j := d.found.journal
	if err := j.begin(); err != nil {
		return fmt.Errorf("keep what hands do: %w", err)
	}
	d.hands.mu.Lock()
	d.hands.journal = j
	d.hands.mu.Unlock()
	d.Bench.Watch(func(s sim.Standing) {
		_ = j.note(journalLine{At: d.Clock.Now().Time(), Stand: s}) // kept by the journal, and told at its end
	})
	if !d.found.is() {
		return nil
	}
	if s := d.Bench.Standing(); s.Panel != j.lines[len(j.lines)-1].Stand.Panel {
		return j.note(journalLine{At: d.Clock.Now().Time(), Stand: s}) // the daemon's start switched it
	}
	return nil
}

// job is the one that goes on: that of the set, or the one opened last.
func (g goingOn) job() string {
	for _, l := range g.journal.lines {
		if l.Job != "" && slices.Contains(g.open, l.Job) {
			return l.Job
		}
	}
	return g.open[len(g.open)-1]
}
