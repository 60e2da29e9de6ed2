package bus

import (
	"errors"
	"fmt"
	"slices"

	"steadyrail/capture"
)

// What a refused post wraps. Nothing was recorded.
var (
	ErrNoJob        = errors.New("no such open job")
	ErrClosed       = errors.New("the job is closed")
	ErrServesOther  = errors.New("the channel serves another job")
	ErrNotServing   = errors.New("the channel serves no job")
	ErrNoRail       = errors.New("no such rail in the job")
	ErrNoPlacement  = errors.New("no such placement")
	ErrNotPostable  = errors.New("cannot be posted")
	ErrWrongJobName = errors.New("the sheet names another job")
)

// job is what filing must know of a job.
type job struct {
	name       string
	isOpen     bool
	wasClosed  bool
	sheet      capture.Sheet
	placements capture.Placements
	behind     capture.Instant // ticks after this are still owed; 0: none
}

// route tells which job a channel serves, and since when it is on its point.
type route struct {
	job   *job
	moved capture.Instant
}

func (b *Bus) job(name string) *job {
	j := b.jobs[name]
	if j == nil {
		j = &job{name: name}
		b.jobs[name] = j
	}
	return j
}

// Past is what a bus must know of a stored job to continue it.
type Past struct {
	After    capture.Instant              // the job's last record
	Records  []capture.Record             // the job's records other than readings, in order
	Ordinals map[capture.ChannelID]uint64 // the newest ordinal of each channel; nil: count from 1
}

// Seed continues a stored job: it is open again, its channels serve it unless
// another open job placed them later, and no record is stamped at or before
// its last one. Seed before the first post to the job and attach its sinks
// right after: they get the ticks since its last record, all of them, with the
// next record or tick of the bench. A day away is 864,000 ticks.
func (b *Bus) Seed(name string, past Past) error {
	b.lock()
	defer b.unlock()
	j := b.job(name)
	if j.isOpen {
		return fmt.Errorf("continue job %s: it is open already", name)
	}
	fresh := job{name: name, isOpen: true, behind: past.After}
	for _, rec := range past.Records {
		if err := b.foldPast(&fresh, rec); err != nil {
			return fmt.Errorf("continue job %s: record at %s: %w", name, rec.At, err)
		}
	}
	// A clock that was set back since: the bench goes on from the job's last
	// record, before the job is open, for those ticks are in its past.
	b.tick(past.After)
	b.last = max(b.last, past.After)
	*j = fresh
	b.open = append(b.open, j)
	for ch, n := range past.Ordinals {
		b.ordinals[counted{name, ch}] = n
	}
	for _, ch := range j.placements.Channels() {
		_, at, _ := j.placements.Now(ch)
		if have, ok := b.routes[ch]; ok {
			if _, since, _ := have.job.placements.Now(ch); since >= at {
				continue
			}
		}
		b.routes[ch] = route{j, at}
	}
	return nil
}

func (b *Bus) foldPast(j *job, rec capture.Record) error {
	switch it := rec.Item.(type) {
	case capture.Sheet:
		j.sheet = it
	case capture.Roster:
		b.learnGroups(it)
	case capture.Placement:
		return j.placements.Apply(rec.At, it)
	}
	return nil
}

// begin opens a job with its first sheet.
func (b *Bus) begin(j *job, sheet capture.Sheet) {
	*j = job{name: j.name, isOpen: true, sheet: sheet}
	b.jobs[j.name] = j
	b.open = append(b.open, j)
}

// end closes a job: its channels are free, its sinks get nothing more.
func (b *Bus) end(j *job) {
	*j = job{name: j.name, wasClosed: true}
	b.open = slices.DeleteFunc(b.open, func(o *job) bool { return o == j })
	for ch, r := range b.routes {
		if r.job == j {
			delete(b.routes, ch)
		}
	}
	for k := range b.ordinals {
		if k.job == j.name {
			delete(b.ordinals, k)
		}
	}
}

// Withdraw takes back a job that could not be opened. Nothing is recorded, its
// channels are free, and the name may be used again.
func (b *Bus) Withdraw(name string) {
	b.lock()
	defer b.unlock()
	j := b.jobs[name]
	if j == nil {
		return
	}
	b.end(j)
	j.wasClosed = false
	delete(b.jobs, name)
}

// learnGroups notes which channels share an input, so that placing one can
// take the others off.
func (b *Bus) learnGroups(r capture.Roster) {
	for _, in := range r.Instruments {
		for _, c := range in.Channels {
			var others []capture.ChannelID
			for _, o := range in.Channels {
				if c.Group != "" && o.Group == c.Group && o.ID != c.ID {
					others = append(others, o.ID)
				}
			}
			b.groups[c.ID] = others
		}
	}
}

// Where tells which open job a channel serves and its latest placement there.
// The job is empty when it serves none.
func (b *Bus) Where(ch capture.ChannelID) (job string, p capture.Placement, since capture.Instant) {
	b.lock()
	defer b.unlock()
	r, ok := b.routes[ch]
	if !ok {
		return "", capture.Placement{}, 0
	}
	p, since, _ = r.job.placements.Now(ch)
	return r.job.name, p, since
}

// Serves lists the open jobs that an instrument's channels serve, in the order
// in which they were opened.
func (b *Bus) Serves(instrument string) []string {
	b.lock()
	defer b.unlock()
	var out []string
	for _, j := range b.open {
		for ch, r := range b.routes {
			if r.job == j && ch.Instrument() == instrument {
				out = append(out, j.name)
				break
			}
		}
	}
	return out
}

// Jobs lists the open jobs in the order in which they were opened.
func (b *Bus) Jobs() []string {
	b.lock()
	defer b.unlock()
	out := make([]string, 0, len(b.open))
	for _, j := range b.open {
		out = append(out, j.name)
	}
	return out
}
