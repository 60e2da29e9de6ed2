package app

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/rules"
)

// coldRail is a rail whose cold check passed, and on which instant that rests.
type coldRail struct {
	rail string
	at   capture.Instant
}

// keepCold remembers which rails the job's cold checks have passed. It is called
// where the engine may be touched.
func (j *openJob) keepCold(e *rules.Engine) {
	var passed []coldRail
	for _, r := range j.book.Sheet().Rails {
		if at, ok := e.ColdPassed(r.Name); ok {
			passed = append(passed, coldRail{r.Name, at})
		}
	}
	j.guardMu.Lock()
	defer j.guardMu.Unlock()
	j.cold = passed
}

// coldState is what is known of a rail's cold check.
type coldState struct {
	passed bool
	stale  string // why a pass counts no more; "": it counts
}

// coldStates judges the cold checks of a job: passed, and not older than work on
// the board that may have changed the rail.
func (j *openJob) coldStates() func(rail string) coldState {
	rails, touches := j.book.Sheet().Rails, j.touches()
	j.guardMu.Lock()
	cold, works := j.cold, j.works // both grow at their end or are replaced; the sheet is read without the lock, which the bus waits for
	j.guardMu.Unlock()
	states := map[string]coldState{}
	for _, c := range cold {
		s := coldState{passed: true}
		if work, ok := works.Since(c.at, c.rail, rails, touches); ok {
			s.stale = work.Stale(c.rail, c.at, time.Local)
		}
		states[c.rail] = s
	}
	return func(rail string) coldState { return states[rail] }
}

// touches tells by the board's sheet which rails a part is on. Without a sheet, or
// of a part that is not on it, nothing is known.
func (j *openJob) touches() func(part, rail string) (on, known bool) {
	on := sync.OnceValue(func() func(part, rail string) (bool, bool) { // read only where there was work: screens ask often
		b, err := sheetOf(&j.trail)
		if err != nil || b == nil {
			return func(string, string) (bool, bool) { return false, false }
		}
		return b.On
	})
	return func(part, rail string) (bool, bool) { return on()(part, rail) }
}

// withRails adds to a part that is lifted or put back the rails that it is on by the
// board's sheet: heat is on no other.
func (j *openJob) withRails(act capture.Act) capture.Act {
	if act.Verb != capture.ActLift && act.Verb != capture.ActPutBack {
		return act
	}
	on, touches := []string{}, j.touches()
	for _, r := range j.book.Sheet().Rails {
		is, known := touches(act.Subject, r.Name)
		if !known {
			return act
		}
		if is {
			on = append(on, r.Name)
		}
	}
	act.Text = capture.OnRails(act.Text, on)
	return act
}

// unpassed lists the rails that have a cold check which has not passed, and says
// of each that passed before the board was worked on why that counts no more.
func unpassed(j *openJob) (never, stale, why []string) {
	state := j.coldStates()
	for _, r := range j.book.Rules().Rules {
		if r.Kind != "short" || slices.Contains(never, r.Rail) || slices.Contains(stale, r.Rail) {
			continue
		}
		switch s := state(r.Rail); {
		case !s.passed:
			never = append(never, r.Rail)
		case s.stale != "":
			stale, why = append(stale, r.Rail), append(why, s.stale)
		}
	}
	return never, stale, why
}

// coldMissing says which cold checks are missing before an output goes on, and
// what to do.
func coldMissing(j *openJob) (missing, hints []string) {
	never, stale, why := unpassed(j)
	if len(never) > 0 {
		missing = append(missing, "the cold check of "+strings.Join(never, ", ")+" has not passed in this job"+saysShort(j, never))
		hints = append(hints, fmt.Sprintf("with no power: read its volts until they are below 50 mV, then its ohms, until it says no short: steadyrail place dmm/ohms %q", never[0]))
	}
	if len(stale) > 0 {
		say, do := agedWords(stale, why)
		missing, hints = append(missing, say), append(hints, do)
	}
	return missing, hints
}

// agedWords says that cold checks have passed and count no more, and what to do.
func agedWords(stale, why []string) (say, do string) {
	return "the cold check is older than work on the board: " + strings.Join(why, "; "),
		fmt.Sprintf("with no power, read %s in ohms again, until it says no short: steadyrail place dmm/ohms %q, or type what a meter shows, in the place of FIGURE: steadyrail enter %q \"FIGURE ohm\"", strings.Join(stale, ", "), stale[0], stale[0])
}

// ColdAged says before anybody asks for a permit that the cold checks of an open
// job count no more, in the words of its refusal, and what to do. "" while they
// count, or none has passed yet.
func (a *App) ColdAged(id string) (say, do string) {
	j, err := a.job(id)
	if err != nil {
		return "", ""
	}
	_, stale, why := unpassed(j)
	if len(stale) == 0 {
		return "", ""
	}
	return agedWords(stale, why)
}
