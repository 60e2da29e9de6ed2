package live

import (
	"slices"
	"sync"

	"steadyrail/capture"
)

// second is the pace at which a bench where nothing happens still changes: the
// age of what is shown.
const second = capture.Instant(1_000_000)

// Table is the bench as it is now. Use [New].
type Table struct {
	mu          sync.Mutex
	bench       string
	simulated   bool
	speed       float64
	now         capture.Instant
	version     uint64
	channels    map[capture.ChannelID]*channel
	order       []*channel // of appearance
	jobs        []*job     // of opening
	notices     []string
	instruments []InstrumentView
	notifiers   []NotifierView
	say         func(capture.Act) string
	cached      *Snapshot // of version, shared with nobody
	watchers    map[chan struct{}]struct{}
}

// New returns the empty table of a bench. The function puts an act into the
// sentence of its entry; nil says it plainly.
func New(bench string, simulated bool, say func(capture.Act) string) *Table {
	if say == nil {
		say = plainly
	}
	return &Table{
		bench: bench, simulated: simulated, speed: 1, say: say,
		channels: map[capture.ChannelID]*channel{},
		watchers: map[chan struct{}]struct{}{},
	}
}

// Consume takes a record of the bus, or of a stored job that is continued.
func (t *Table) Consume(rec capture.Record) {
	t.mu.Lock()
	defer t.mu.Unlock()
	before := t.now
	t.now = max(t.now, rec.At)
	if _, tick := rec.Item.(capture.Tick); tick {
		if t.now/second != before/second {
			t.changed()
		}
		return
	}
	t.fold(rec)
	t.changed()
}

func (t *Table) fold(rec capture.Record) {
	j := t.job(rec.Job)
	if sheet, ok := rec.Item.(capture.Sheet); ok && rec.Job != "" {
		t.sheet(rec.At, j, sheet)
		return
	}
	switch it := rec.Item.(type) {
	case capture.Reading:
		t.reading(rec.At, j, it)
	case capture.Roster:
		for _, in := range it.Instruments {
			t.learn(in)
		}
	}
	if j == nil {
		return
	}
	switch it := rec.Item.(type) {
	case capture.Placement:
		t.placement(rec.At, j, it)
	case capture.Act:
		j.act(rec.At, it)
		if it.Verb == capture.ActClose {
			t.close(j)
		}
	case capture.RuleSet:
		j.rules(it)
		j.reform(it)
	case capture.Gap:
		j.enter(rec.At, capture.Act{}, sayGap(it))
	}
}

// job returns the open job of that name, or nil.
func (t *Table) job(name string) *job {
	for _, j := range t.jobs {
		if j.sheet.Job == name {
			return j
		}
	}
	return nil
}

func (t *Table) sheet(at capture.Instant, j *job, sheet capture.Sheet) {
	if j == nil {
		t.jobs = append(t.jobs, newJob(at, sheet, t.say))
		return
	}
	j.sheet = sheet
}

func (t *Table) close(j *job) {
	t.jobs = slices.DeleteFunc(t.jobs, func(o *job) bool { return o == j })
	for _, c := range t.order {
		if c.job == j {
			c.job = nil
		}
		c.forget(j)
	}
}

// Forget takes a job off that could not be opened, or not continued.
func (t *Table) Forget(job string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if j := t.job(job); j != nil {
		t.close(j)
		t.changed()
	}
}

// Notice adds a sentence about the bench itself, which stays on the screens.
func (t *Table) Notice(say string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	// A new slice: snapshots share the old one.
	t.notices = append(slices.Clone(t.notices), say)
	t.changed()
}

// changed gives the table a new version and wakes whoever watches. A watcher
// that has not looked since the last time is awake already.
func (t *Table) changed() {
	t.version++
	for w := range t.watchers {
		select {
		case w <- struct{}{}:
		default:
		}
	}
}

// Subscribe returns a channel that receives once after one or more changes,
// and a function that ends the subscription; calling it twice is harmless. The
// channel is never closed. Newest wins: whoever wakes takes a Snapshot and
// misses nothing that still holds.
func (t *Table) Subscribe() (<-chan struct{}, func()) {
	w := make(chan struct{}, 1)
	t.mu.Lock()
	defer t.mu.Unlock()
	t.watchers[w] = struct{}{}
	return w, func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		delete(t.watchers, w)
	}
}

// Version grows with every change.
func (t *Table) Version() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.version
}
