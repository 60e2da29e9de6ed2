package live

import (
	"cmp"
	"slices"

	"steadyrail/capture"
)

// traceCells is how many buckets a trace has at most.
const traceCells = 120

// Snapshot returns the bench as it is now: a deep copy. Between two changes it
// is computed once; the copying is done outside of the lock.
func (t *Table) Snapshot() Snapshot {
	return t.built().clone()
}

func (t *Table) built() *Snapshot {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.cached == nil || t.cached.Version != t.version {
		t.cached = t.build()
	}
	return t.cached
}

// build puts a snapshot together that may share what is never changed in
// place.
func (t *Table) build() *Snapshot {
	s := &Snapshot{
		Now: t.now, Bench: t.bench, Simulated: t.simulated, Speed: t.speed, Version: t.version,
		Instruments: t.instruments, Notifiers: t.notifiers, Notices: t.notices,
	}
	for _, c := range t.order {
		s.Channels = append(s.Channels, c.view())
	}
	for _, j := range t.jobs {
		s.Jobs = append(s.Jobs, t.jobView(j))
	}
	return s
}

func (c *channel) view() ChannelView {
	v := ChannelView{
		Info: c.info, Last: c.last, LastGood: c.lastGood, Selected: c.selected, Exchange: c.exchange,
		Outcomes: map[string]uint64{},
	}
	if c.job != nil {
		v.Job = c.job.sheet.Job
	}
	for i, n := range c.outcomes {
		if n > 0 {
			v.Outcomes[outcomeNames[i]] = n
		}
	}
	return v
}

func (t *Table) jobView(j *job) JobView {
	now := j.stage()
	v := JobView{
		Sheet: j.sheet, Stage: now.Stage, StageSince: now.From, Stages: slices.Clone(j.stages), Soak: j.soak,
		Derived: j.derived, Mutes: j.mutes.Now(t.now), Past: j.past, Alarms: slices.Clone(j.alarms),
		Trips: j.trips, Off: j.off.Spans(),
		Entries: slices.Clone(j.entries[max(0, len(j.entries)-mostEntries):]), Cautioned: j.cautioned,
	}
	v.Courses = slices.Clone(j.courses)
	slices.SortStableFunc(v.Alarms, worstFirst)
	traces := t.traces(j)
	for _, r := range j.sheet.Rails {
		v.Rails = append(v.Rails, t.railView(j, r, traces[r.Name]))
	}
	for _, c := range t.order {
		if p, ok := t.pointView(j, c); ok {
			v.Points = append(v.Points, p)
		}
	}
	return v
}

// worstFirst orders alarms for people: by severity, present before gone,
// unheard before heard, newest first.
func worstFirst(a, b capture.Transition) int {
	rank := func(x capture.Transition) int {
		r := 4 * int(x.Severity)
		if x.To.IsActive() {
			r += 2
		}
		if x.To == capture.Active || x.To == capture.Returned || x.To == capture.Latched {
			r++
		}
		return r
	}
	return cmp.Or(cmp.Compare(rank(b), rank(a)), cmp.Compare(b.Raised, a.Raised), cmp.Compare(a.Alarm, b.Alarm))
}

func (t *Table) railView(j *job, r capture.Rail, trace []capture.Bucket) RailView {
	v := RailView{Rail: r, Trace: trace}
	if n := j.rails[r.Name]; n != nil {
		v.Volts, v.Ohms = n.volts, n.ohms
	}
	best := capture.Instant(0)
	volts := false
	for _, c := range t.order {
		p, since, ok := j.placements.Now(c.info.ID)
		if !ok || c.job != j || p.Rail != r.Name {
			continue
		}
		v.Live = true
		// Who measures the volts speaks for the rail; of equals, the latest.
		if mine := c.measuresVolts(); mine && !volts || mine == volts && since > best {
			v.Placement, best, volts = p, since, mine
		}
	}
	for _, verdict := range j.verdicts {
		if verdict.Rail == r.Name {
			shown := v.Volts
			if verdict.Unit == capture.Ohm.ASCII() || verdict.Kind == "short" {
				shown = v.Ohms
			}
			v.Verdicts = append(v.Verdicts, j.standing(verdict, shown))
		}
	}
	return v
}

// pointView shows a channel of the job that is not one of a rail's volts or
// ohms. A probe that lies on the bench is no point.
func (t *Table) pointView(j *job, c *channel) (PointView, bool) {
	p, _, ok := j.placements.Now(c.info.ID)
	idle := p.Rail == "" && p.Point == ""
	switch {
	case !ok || c.job != j || c.last == nil:
		return PointView{}, false
	case idle && (c.info.Group != "" || c.last.Reading.Flags.Has(capture.ByEye)):
		return PointView{}, false
	case p.Rail != "" && (c.measuresVolts() || c.measuresOhms()):
		return PointView{}, false
	}
	v := PointView{Channel: c.info.ID, Placement: p, Last: c.last}
	tr := trace{now: t.now}
	for i := range c.pieces {
		if q := &c.pieces[i]; q.job == j && q.rail == p.Rail && q.point == p.Point {
			tr.add(q)
		}
	}
	v.Trace = tr.buckets()
	return v, true
}

// traces draws together what the volts of every rail of a job were.
func (t *Table) traces(j *job) map[string][]capture.Bucket {
	open := map[string]*trace{}
	for _, c := range t.order {
		if !c.measuresVolts() {
			continue
		}
		for i := range c.pieces {
			q := &c.pieces[i]
			if q.job != j || q.rail == "" {
				continue
			}
			tr := open[q.rail]
			if tr == nil {
				tr = &trace{now: t.now}
				open[q.rail] = tr
			}
			tr.add(q)
		}
	}
	out := map[string][]capture.Bucket{}
	for rail, tr := range open {
		out[rail] = tr.buckets()
	}
	return out
}

// trace gathers pieces in the cells of the last ten minutes.
type trace struct {
	now   capture.Instant
	cells []piece // by cell; empty until the first piece
}

func (tr *trace) first() capture.Instant { return tr.now/cell*cell - (traceCells-1)*cell }

func (tr *trace) add(p *piece) {
	i := int((p.cell - tr.first()) / cell)
	if p.cell < tr.first() || i >= traceCells {
		return
	}
	if tr.cells == nil {
		tr.cells = make([]piece, traceCells)
	}
	tr.cells[i].merge(p)
}

func (p *piece) merge(q *piece) {
	p.bad += q.bad
	if q.n == 0 {
		return
	}
	if p.n == 0 {
		p.min, p.max = q.min, q.max
	}
	p.n += q.n
	p.min, p.max = min(p.min, q.min), max(p.max, q.max)
	p.sum += q.sum
	p.last = q.last
}

// buckets returns the cells from the first that has anything to the present
// one. Those between that have nothing are holes, with N and Bad 0.
func (tr *trace) buckets() []capture.Bucket {
	var out []capture.Bucket
	for i := range tr.cells {
		p := &tr.cells[i]
		if len(out) == 0 && p.n+p.bad == 0 {
			continue
		}
		from := tr.first() + capture.Instant(i)*cell
		b := capture.Bucket{From: from, To: from + cell, N: p.n, Bad: p.bad, Min: p.min, Max: p.max, Last: p.last}
		if p.n > 0 {
			b.Mean = p.sum / float64(p.n)
		}
		out = append(out, b)
	}
	return out
}
