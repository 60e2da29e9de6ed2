package bus

import (
	"fmt"

	"steadyrail/capture"
)

// Post records an item in a job and returns its instant. A job begins with its
// first [capture.Sheet] and ends with its [capture.ActClose]. With an empty job
// an act or a gap goes to the bench-wide sinks alone.
//
// Placements are checked: the job must be open and know the rail, a correction
// must mend a placement that is there, and a channel that is on something in
// another open job is refused with [ErrServesOther]. A channel that is on
// nothing may be put on something by any job. Placing one channel of a shared
// input first takes the others of that input off where they are, as records of
// their own, so that no later reading is filed where the input no longer is.
//
// A typed reading may be posted too; it must come from a channel that serves
// the job.
func (b *Bus) Post(job string, item capture.Item) (capture.Instant, error) {
	b.lock()
	defer b.unlock()
	return b.post(job, item)
}

// PostAll records several items with nothing between them. It stops at the
// first that is refused and returns the instants of those before it.
func (b *Bus) PostAll(job string, items ...capture.Item) ([]capture.Instant, error) {
	b.lock()
	defer b.unlock()
	var done []capture.Instant
	for _, it := range items {
		at, err := b.post(job, it)
		if err != nil {
			return done, err
		}
		done = append(done, at)
	}
	return done, nil
}

// Gap records in every open job, and for the bench, that nothing was seen for
// a while: the computer slept, the clock was stopped. The ticks up to now have
// been handed out, and a replay must know that.
func (b *Bus) Gap(g capture.Gap) {
	b.lock()
	defer b.unlock()
	g.Ticked = true
	for _, j := range b.open {
		b.record(j, g)
	}
	b.record(nil, g)
}

func (b *Bus) post(name string, item capture.Item) (capture.Instant, error) {
	if name == "" {
		return b.postBench(item)
	}
	j := b.jobs[name]
	if j == nil {
		j = &job{name: name} // forgotten again unless a sheet opens it
	}
	if sheet, ok := item.(capture.Sheet); ok {
		return b.postSheet(j, sheet)
	}
	if err := j.mustBeOpen(); err != nil {
		return 0, err
	}
	switch it := item.(type) {
	case capture.Placement:
		return b.postPlacement(j, it)
	case capture.Reading:
		return b.postReading(j, it)
	case capture.Roster:
		b.learnGroups(it)
	case capture.Act:
		at := b.record(j, it)
		if it.Verb == capture.ActClose {
			b.end(j)
		}
		return at, nil
	case capture.RuleSet, capture.Gap:
	default:
		return 0, fmt.Errorf("post %T to job %s: %w", item, j.name, ErrNotPostable)
	}
	return b.record(j, item), nil
}

func (j *job) mustBeOpen() error {
	switch {
	case j.isOpen:
		return nil
	case j.wasClosed:
		return fmt.Errorf("job %s: %w; open it again or open a new one", j.name, ErrClosed)
	}
	return fmt.Errorf("job %s: %w; open it first", j.name, ErrNoJob)
}

func (b *Bus) postBench(item capture.Item) (capture.Instant, error) {
	switch item.(type) {
	case capture.Act, capture.Gap:
		return b.record(nil, item), nil
	}
	return 0, fmt.Errorf("post %T without a job: %w; name the job", item, ErrNotPostable)
}

func (b *Bus) postSheet(j *job, sheet capture.Sheet) (capture.Instant, error) {
	if err := b.checkSheet(j, sheet); err != nil {
		return 0, fmt.Errorf("sheet of job %s: %w", j.name, err)
	}
	if j.isOpen {
		j.sheet = sheet
		return b.record(j, sheet), nil
	}
	// The job's first tick is the first grid point after this record, so it
	// must not be open while the ticks before it go out.
	at := b.stamp()
	b.tick(at)
	b.begin(j, sheet)
	b.hand(j, at, sheet)
	return at, nil
}

func (b *Bus) checkSheet(j *job, sheet capture.Sheet) error {
	if j.wasClosed {
		return j.mustBeOpen()
	}
	if sheet.Job != j.name {
		return fmt.Errorf("it names job %q: %w", sheet.Job, ErrWrongJobName)
	}
	seen := map[string]bool{}
	for _, r := range sheet.Rails {
		if seen[r.Name] {
			return fmt.Errorf("two rails are called %s: %w", r.Name, ErrNotPostable)
		}
		seen[r.Name] = true
	}
	for _, ch := range j.placements.Channels() {
		p, _, _ := j.placements.Now(ch)
		if p.Rail != "" && !seen[p.Rail] && b.routes[ch].job == j {
			return fmt.Errorf("%s stands on %s, which the new sheet does not have: %w; place it elsewhere first", ch, p.Rail, ErrNoRail)
		}
	}
	return nil
}

func (b *Bus) postReading(j *job, r capture.Reading) (capture.Instant, error) {
	to := b.routes[r.Channel]
	switch {
	case to.job == nil:
		return 0, fmt.Errorf("reading of %s for job %s: %w; place it first", r.Channel, j.name, ErrNotServing)
	case to.job != j:
		return 0, fmt.Errorf("reading of %s for job %s: %w, %s", r.Channel, j.name, ErrServesOther, to.job.name)
	}
	return b.read(r, to), nil
}
