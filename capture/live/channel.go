package live

import "steadyrail/capture"

const (
	// cell is the grid of the traces: 120 cells are ten minutes.
	cell = 5 * second
	// keep is how far back pieces are kept, and most how many a channel may
	// have when its probe wanders.
	keep = 900 * second
	most = 720
)

// outcomeNames are the counters of a channel; outcomeIndex finds them.
var (
	outcomeNames = capture.Outcomes()
	outcomeIndex = func() map[string]int {
		m := map[string]int{}
		for i, name := range outcomeNames {
			m[name] = i
		}
		return m
	}()
)

type channel struct {
	info     capture.ChannelInfo
	job      *job // that it serves; nil: none
	last     *Last
	lastGood capture.Instant
	outcomes []uint64 // by outcomeNames
	selected bool
	exchange float64
	pieces   []piece // oldest first
}

// piece sums up what a channel read within one cell while it stood in one
// place: it never spans a placement, so that a correction can move it whole.
type piece struct {
	cell   capture.Instant // start of the cell
	job    *job
	placed capture.Instant // when it was put there
	rail   string
	point  string
	n, bad int
	min    float64
	max    float64
	sum    float64
	last   float64
}

func (t *Table) channel(id capture.ChannelID, q capture.Quantity) *channel {
	c := t.channels[id]
	if c == nil {
		c = &channel{info: capture.ChannelInfo{ID: id, Quantity: q}, outcomes: make([]uint64, len(outcomeNames))}
		t.channels[id] = c
		t.order = append(t.order, c)
	}
	return c
}

func (t *Table) learn(in capture.InstrumentInfo) {
	for _, ci := range in.Channels {
		t.channel(ci.ID, ci.Quantity).info = ci
	}
}

func (t *Table) reading(at capture.Instant, j *job, r capture.Reading) {
	c := t.channel(r.Channel, r.Quantity)
	if c.info.Quantity == capture.NoQuantity {
		c.info.Quantity = r.Quantity // placed before it was heard of: what is typed by hand
	}
	c.outcomes[outcomeIndex[r.Flags.Outcome()]]++
	c.last = &Last{At: at, Reading: r}
	if r.Good() {
		c.lastGood = at
	}
	p := piece{cell: at / cell * cell, job: j}
	if j != nil {
		where, since, _ := j.placements.Now(r.Channel)
		p.placed, p.rail, p.point = since, where.Rail, where.Point
		j.file(c, since, where.Rail, c.last)
		if r.Flags.Has(capture.Typed | capture.ByEye) {
			j.enter(at, capture.Act{}, sayTyped(r, where))
		}
	}
	c.add(p, r)
	c.trim(t.now)
}

// Newest returns the newest reading of a channel, whether it has a value or not.
func (t *Table) Newest(id capture.ChannelID) (Last, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if c := t.channels[id]; c != nil && c.last != nil {
		return *c.last, true
	}
	return Last{}, false
}

// add counts a reading in the newest piece, or begins another.
func (c *channel) add(p piece, r capture.Reading) {
	if n := len(c.pieces); n > 0 {
		if last := &c.pieces[n-1]; last.cell == p.cell && last.job == p.job && last.placed == p.placed {
			last.count(r)
			return
		}
	}
	p.count(r)
	c.pieces = append(c.pieces, p)
}

func (p *piece) count(r capture.Reading) {
	if !r.HasValue() {
		p.bad++
		return
	}
	if p.n == 0 {
		p.min, p.max = r.Value, r.Value
	}
	p.n++
	p.min, p.max = min(p.min, r.Value), max(p.max, r.Value)
	p.sum += r.Value
	p.last = r.Value
}

// trim drops what is too old or too much. It moves the rest only when half of
// the room is waste, so that taking a reading stays cheap.
func (c *channel) trim(now capture.Instant) {
	drop := max(0, len(c.pieces)-most)
	for drop < len(c.pieces) && c.pieces[drop].cell < now-keep {
		drop++
	}
	if drop > most/2 || drop > 0 && drop*2 > len(c.pieces) {
		c.pieces = append([]piece(nil), c.pieces[drop:]...)
	}
}

func (c *channel) forget(j *job) {
	for i := range c.pieces {
		if c.pieces[i].job == j {
			c.pieces[i].job, c.pieces[i].rail = nil, ""
		}
	}
}

// refile looks up again where the pieces of a job stood.
func (c *channel) refile(j *job) {
	for i := range c.pieces {
		if p := &c.pieces[i]; p.job == j {
			where, _ := j.placements.At(c.info.ID, p.placed)
			p.rail, p.point = where.Rail, where.Point
		}
	}
}

// measuresVolts reports whether the channel's readings are the volts of the
// rail it stands on: not a supply's own read-back, which is lead drop away.
func (c *channel) measuresVolts() bool {
	return c.info.Quantity == capture.DCVoltage && !c.info.Setpoint
}

func (c *channel) measuresOhms() bool { return c.info.Quantity == capture.Resistance }
