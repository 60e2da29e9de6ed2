package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/rules/coverage"
)

// SoakState says how far the soak in hand is; see [dashboards.Soaker].
func (a *App) SoakState(id string) (capture.RegimenState, error) {
	j, err := a.job(id)
	if err != nil {
		return capture.RegimenState{}, err
	}
	now := a.clock.Now()
	s := j.planState(now)
	soaks := j.book.Soaks()
	if n := len(soaks); n > 0 && soaks[n-1].From > s.From {
		s = plainSoak(j, soaks[n-1], now)
	}
	falls, err := 0, error(nil)
	if s.State != "" {
		falls, err = j.fallsIn(s)
	}
	s.Say = soakWords(s, falls, err)
	return s, nil
}

// plainSoak is the state of a soak without a plan.
func plainSoak(j *openJob, soak job.SoakSpan, now capture.Instant) capture.RegimenState {
	s := capture.RegimenState{Job: j.id, State: capture.PlanRuns, From: soak.From, Needed: soak.Planned, Steps: []capture.RegimenTold{}, Parts: []capture.SoakPart{}}
	if soak.To != 0 {
		now, s.State = soak.To, capture.PlanDone
	}
	from := soak.From
	for _, g := range j.book.Gaps() {
		if g.To <= from || g.From >= now {
			continue
		}
		if g.From > from {
			s.Parts = append(s.Parts, capture.SoakPart{From: from, To: g.From})
		}
		from = max(from, g.To)
	}
	if from < now {
		s.Parts = append(s.Parts, capture.SoakPart{From: from, To: now})
	}
	for _, p := range s.Parts {
		s.Watched += p.To.Sub(p.From)
	}
	return s
}

// fallsIn counts the failures of a soak so far as its report will. What the count
// rests on must be in the record first.
func (j *openJob) fallsIn(soak capture.RegimenState) (int, error) {
	ctx, cancel := context.WithTimeout(context.Background(), countTime)
	defer cancel()
	j.countMu.Lock()
	defer j.countMu.Unlock()
	j.planMu.Lock()
	tally := j.tally.Clone()
	j.planMu.Unlock()
	var to capture.Instant
	if soaks := j.book.Soaks(); len(soaks) > 0 && soaks[len(soaks)-1].From >= soak.From {
		to = soaks[len(soaks)-1].To
	}
	return j.count.Count(ctx, synced{j.file}, tally, soak.From, to)
}

// countTime is how long a page waits for the count of what failed.
const countTime = 5 * time.Second

// synced is the record of an open job whose alarms are asked for when all that was
// told by then is in it.
type synced struct{ *store.Job }

func (s synced) Transitions(ctx context.Context) ([]capture.Transition, error) {
	if err := s.Sync(ctx); err != nil {
		return nil, err
	}
	return s.Job.Transitions(ctx)
}

// soakWords says it: elapsed and needed, pieces, what it proves so far, and what
// comes next. What could not be counted proves nothing.
func soakWords(s capture.RegimenState, falls int, uncounted error) []string {
	if s.State == "" {
		return []string{"No soak was started in " + s.Job + "."}
	}
	out := []string{underPower(s) + "."}
	switch {
	case uncounted != nil:
		out = append(out, "What failed cannot be counted now: "+uncounted.Error()+". The alarms are told all the same.")
	case s.Watched > time.Minute:
		out = append(out, coverage.Proof(falls, s.Watched))
	}
	switch {
	case s.State == capture.PlanWaits:
		out = append(out, "It waits: "+s.Why+".")
	case s.State == capture.PlanStopped:
		out = append(out, "It stopped: "+s.Why+".")
	case s.State == capture.PlanDone && len(s.Steps) > 0:
		out = append(out, fmt.Sprintf("All %d steps are done.", len(s.Steps)))
	case s.Step > 0:
		out = append(out, fmt.Sprintf("Step %d of %d: %s.", s.Step, len(s.Steps), s.Steps[s.Step-1].Say))
	}
	if s.Next != "" {
		out = append(out, "Next: "+s.Next+".")
	}
	return out
}

// underPower says how long it was under power, in which pieces, which come to
// just that, and apart from them how long power was off because the plan had it so.
func underPower(s capture.RegimenState) string {
	out := job.Span(s.Watched) + " under power"
	if s.Needed > 0 {
		out = job.Span(s.Watched) + " of " + job.Span(s.Needed) + " under power"
	}
	if len(s.Parts) > 1 {
		out += fmt.Sprintf(", in %d pieces of %s", len(s.Parts), coverage.Pieces(s.Parts, job.Span))
	}
	if s.Off > 0 {
		out += "; besides, power was off for " + job.Span(s.Off) + " as planned"
	}
	return out
}

// soakNotes says at a soak's start what may end it unseen: a meter that switches
// itself off.
func (a *App) soakNotes(j *openJob, planned time.Duration) string {
	places := j.book.Placements()
	var out []string
	for _, ch := range places.Channels() {
		p, _, _ := places.Now(ch)
		if in := a.info(ch.Instrument()); p.Rail != "" && in.AutoOff > 0 {
			out = append(out, " "+autoOffNote(in.Name, p.Rail, in.AutoOff, planned))
		}
	}
	return strings.Join(out, "")
}

// autoOffNote is the sentence about one meter. A soak that is shorter than the
// meter's time is helped by one key, for the count began with the last one; planned
// is 0 where nobody said how long it is to last.
func autoOffNote(name, rail string, off, planned time.Duration) string {
	may := fmt.Sprintf("%s, on %s, may switch itself off after %s", name, rail, job.Span(off))
	switch {
	case planned == 0:
		return may + ": turn that off on the meter, or press a key when it is asked for."
	case planned < off:
		return may + " without a key: press one now, and it lasts until the soak ends."
	}
	return may + ", before the soak ends: turn that off on the meter, or press a key when it is asked for."
}
