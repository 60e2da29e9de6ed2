package story

import (
	"context"
	"fmt"
	"io"
	"strings"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// Laid is a bench that lies ready for a person's own hands.
type Laid struct {
	Job    string
	GoesOn bool   // the job was open, and the set stands as hands left it
	Say    string // how it stands, and why
}

// Lay prepares a bench for a person's own hands. Where hands left a set in the
// workspace and its job is open, both go on. Else a set comes in: every probe
// hangs in the air, the bead in the room, the set is cold with its leads on, and
// a job is open in its first stage with the rails of the board and nothing else.
func (d *Demo) Lay(ctx context.Context, out io.Writer) (Laid, error) {
	if d.found.is() {
		return d.goOn(), nil
	}
	s := &Story{App: d.App, Bench: d.Bench, Clock: d.Clock, Leash: d.leash, Out: out}
	if err := s.clearBench(ctx); err != nil {
		return Laid{}, err
	}
	job, err := s.freeName(ctx)
	if err != nil {
		return Laid{}, err
	}
	// Before the job: a job that is open goes on with the set that is written last.
	if err := d.found.journal.note(journalLine{At: d.Clock.Now().Time(), Job: job, Stand: d.Bench.Standing()}); err != nil {
		return Laid{}, err
	}
	for _, words := range [][]string{
		{"probe", sim.DMM, "off"}, {"probe", sim.DMM2, "off"}, {"probe", sim.DMM3, "off"}, {"probe", sim.DMM4, "off"},
		{"probe", sim.Thermo, sim.PointRoom, "clip"},
	} {
		if _, err := d.hands.Do(words); err != nil {
			return Laid{}, fmt.Errorf("lay out the bench: %w", err)
		}
	}
	if err := layPapers(d.folder); err != nil {
		return Laid{}, fmt.Errorf("lay the set's papers beside it: %w", err)
	}
	sheet, err := sheetOf(job)
	if err != nil {
		return Laid{}, err
	}
	sheet.Technician = ""
	if _, err := d.App.OpenJob(ctx, sheet); err != nil {
		return Laid{}, err
	}
	return Laid{Job: job, Say: d.cameIn(job)}, nil
}

// cameIn says why a set comes in, when something lay here before.
func (d *Demo) cameIn(job string) string {
	say := fmt.Sprintf(`Job %s is open, its rails are declared, and the set is as it came in: a stage piano with dead keys, unplugged and cold, the bench supply's leads on its 24 V input, the supply off. What it has is for you to find. Its +5 V converter PS2 is withdrawn; a stand-in with a trimmer lies beside it.`, job)
	switch aside := d.found.journal.saysAside(); {
	case aside != "" && len(d.found.open) > 0:
		return aside + fmt.Sprintf("The job of that set, %s, cannot go on with this one. It stays open until steadyrail job close %s.\n", strings.Join(d.found.open, ", "), d.found.open[0]) + say
	case aside != "":
		return aside + say
	case len(d.found.open) > 0:
		return fmt.Sprintf("What hands did to the set of %s was not kept here, so that job cannot go on. It stays open until steadyrail job close %s.\n", strings.Join(d.found.open, ", "), d.found.open[0]) + say
	case d.found.journal.has():
		return "No job is open here any more: another set of the same kind comes in.\n" + say
	}
	return say
}

// goOn says how the job and the set stand that go on.
func (d *Demo) goOn() Laid {
	l := Laid{Job: d.found.job(), GoesOn: true}
	stage := "unknown"
	if j, ok := d.App.Snapshot().Job(l.Job); ok {
		stage = string(j.Stage)
	}
	l.Say = fmt.Sprintf("Job %s goes on, at %s: the set stands as hands left it. %s. Bench time runs as fast as the clock on the wall.", l.Job, stage, d.hands.stands(d.Bench.Standing().Panel))
	return l
}

// stands says how parts and supply stand, in a sentence without its full stop.
func (h *Hands) stands(p sim.Panel) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var off []string
	for _, part := range sim.Parts() {
		if h.out[part] {
			off = append(off, part)
		}
	}
	say := "Off the board: " + strings.Join(off, ", ")
	if len(off) == 0 {
		say = "Every part is on the board"
	}
	say += fmt.Sprintf("; the supply's leads are on %s, its output is ", h.feed)
	switch {
	case p.VoltsTrip || p.AmpsTrip:
		return say + "off by its own protection"
	case p.On:
		return say + "on at " + capture.Volt.Text(p.Volts, 0.01) + ", as it was"
	}
	return say + "off"
}
