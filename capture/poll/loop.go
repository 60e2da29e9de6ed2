package poll

import (
	"context"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"sync"
	"time"

	"steadyrail/capture"
)

// Loop polls the instruments of one link. Use [New].
type Loop struct {
	link  string
	clock capture.Clock
	sink  Sink
	opts  Options

	// Touched by the loop's goroutine alone.
	units    []*unit
	channels []*channel
	rand     *rand.Rand
	exchange context.Context // of the exchanges up to shared; made by bounded
	giveUp   context.CancelFunc
	shared   time.Time // wall time

	lane    chan *request
	urgent  chan *request // looked at before the lane: a trip does not queue behind people
	stopped chan struct{}

	// held while a loss or a return is announced: what a job that opens hears of
	// it is either before or after. Never taken under the bus's lock.
	lossMu sync.Mutex

	mu         sync.Mutex // guards what follows, and every stat and state
	waiting    map[string]int
	connecting string
	interrupt  context.CancelFunc
}

// unit is an instrument with the state of its connection.
type unit struct {
	in       Instrument
	name     string
	up       bool
	failures int // exchanges in a row without a readable answer
	backOff  time.Duration
	retryAt  time.Time        // wall time of the next attempt
	rest     capture.Instant  // after a time-out the others of the link come first
	lastGood capture.Instant  // when its last value was complete
	lostAt   capture.Instant  // 0: no loss has been announced
	why      capture.Flags    // what was announced
	said     string           // and in which words
	listened capture.Instant  // when listening to it ended last: to any of its channels
	known    capture.Identity // of the first connection
	met      bool             // known is filled
	resyncs  uint64           // as last read from in
	channels []*channel
	state    State // guarded by Loop.mu
}

// group is an input that several channels share.
type group struct {
	wanted     capture.ChannelID
	configured capture.ChannelID // "" when the instrument's function is not certain
	settled    capture.Instant   // what is measured before does not count
}

type channel struct {
	unit     *unit
	info     capture.ChannelInfo
	group    *group // nil: an input of its own
	paused   bool
	schedule *Schedule
	stream   stream
	hold     float64 // range that is wanted: base unit, 0: automatic
	held     float64 // range that is set; NaN when that is not certain
	stat     stat    // guarded by Loop.mu
}

// New makes the loop of a link; nothing is sent before Run. Of every group of
// channels that share an input the first one listed is selected.
func New(link string, instruments []Instrument, clock capture.Clock, sink Sink, opts Options) *Loop {
	l := &Loop{
		link: link, clock: clock, sink: sink,
		rand:   rand.New(rand.NewPCG(opts.Seed, seedOf(link))),
		giveUp: func() {},
		lane:   make(chan *request), urgent: make(chan *request), stopped: make(chan struct{}), waiting: map[string]int{},
	}
	takesActs := false
	for _, in := range instruments {
		takesActs = takesActs || len(in.Info().Acts) > 0
		l.add(in)
	}
	l.opts = opts.filled(takesActs)
	return l
}

func (l *Loop) add(in Instrument) {
	info := in.Info()
	u := &unit{in: in, name: info.Name}
	u.state = State{Name: info.Name, Identity: info.Identity, Problem: "not connected yet"}
	groups := map[string]*group{}
	for _, ci := range info.Channels {
		if ci.Every <= 0 {
			ci.Every = defaultEvery
		}
		c := &channel{unit: u, info: ci, stat: stat{outcomes: map[string]uint64{}}}
		if ci.Group != "" {
			if groups[ci.Group] == nil {
				groups[ci.Group] = &group{wanted: ci.ID}
			}
			c.group = groups[ci.Group]
		}
		u.channels = append(u.channels, c)
		l.channels = append(l.channels, c)
	}
	l.units = append(l.units, u)
}

func seedOf(s string) uint64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte(s)) // a hash never fails to write
	return h.Sum64()
}

// Run polls until ctx is done, then closes the instruments and returns nil. It
// is called once.
func (l *Loop) Run(ctx context.Context) error {
	defer close(l.stopped)
	defer l.closeAll()
	defer func() { l.giveUp() }()
	l.startSchedules()
	for ctx.Err() == nil {
		l.serveLane(ctx)
		next, retry := l.nextDue(), l.nextRetry()
		switch {
		case retry != nil && !retry.retryAt.After(time.Now()):
			l.connect(ctx, retry)
		case next != nil && next.due() <= l.clock.Now():
			l.poll(ctx, next)
		default:
			l.wait(ctx, next, retry)
		}
	}
	return nil
}

func (l *Loop) closeAll() {
	for _, u := range l.units {
		if err := u.in.Close(); err != nil && u.up {
			l.setState(u, func(s *State) { s.Problem = fmt.Sprintf("close %s: %v", u.name, err) })
		}
		u.up = false
		l.setState(u, func(s *State) { s.Up = false })
	}
}

// startSchedules spreads the channels' grids over their intervals, so that
// channels of the same interval do not ask for the link at the same time.
func (l *Loop) startSchedules() {
	now := l.clock.Now()
	for i, c := range l.channels {
		offset := c.info.Every * time.Duration(i) / time.Duration(len(l.channels))
		c.schedule = NewSchedule(now.Add(offset), c.info.Every, l.dither(), l.seedOf(c))
		c.schedule.Restart(now)
	}
}

// active reports whether a channel is to be polled when its instrument is up.
func (c *channel) active() bool {
	return !c.paused && (c.group == nil || c.group.wanted == c.info.ID)
}

// due is when a channel is to be asked next.
func (c *channel) due() capture.Instant {
	due := c.schedule.Due()
	if c.info.Streams {
		due = c.stream.listen
	} else if c.group != nil && c.group.configured == c.info.ID {
		due = max(due, c.group.settled)
	}
	return max(due, c.unit.rest)
}

// restart begins a channel's polling anew: what was not asked for meanwhile was
// not missed.
func (c *channel) restart(now capture.Instant) {
	c.schedule.Restart(now)
	c.stream.restart(now)
}

// nextDue returns the channel whose slot is the earliest: nil when there is
// nothing to poll.
func (l *Loop) nextDue() *channel {
	var first *channel
	for _, c := range l.channels {
		if c.unit.up && c.active() && (first == nil || c.due() < first.due()) {
			first = c
		}
	}
	return first
}

// nextRetry returns the instrument that is to be tried next.
func (l *Loop) nextRetry() *unit {
	var first *unit
	for _, u := range l.units {
		if !u.up && (first == nil || u.retryAt.Before(first.retryAt)) {
			first = u
		}
	}
	return first
}

// wait sleeps until something is due, somebody asks, or ctx is done. Slots are
// in bench time, attempts to connect in wall time.
func (l *Loop) wait(ctx context.Context, next *channel, retry *unit) {
	var due, again <-chan time.Time
	if next != nil {
		c, stop := l.clock.After(next.due().Sub(l.clock.Now()))
		defer stop()
		due = c
	}
	if retry != nil {
		t := time.NewTimer(time.Until(retry.retryAt))
		defer t.Stop()
		again = t.C
	}
	select {
	case <-ctx.Done():
	case <-due:
	case <-again:
	case r := <-l.urgent:
		l.serve(ctx, r)
	case r := <-l.lane:
		l.serve(ctx, r)
	}
}
