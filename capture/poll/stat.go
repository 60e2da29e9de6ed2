package poll

import (
	"maps"
	"time"

	"steadyrail/capture"
)

// Stat is how a channel's polling has gone since the start.
type Stat struct {
	Channel  capture.ChannelID
	Selected bool // it is the polled one of its input
	Paused   bool
	Polls    uint64            // exchanges
	Missed   uint64            // slots that were overtaken by later ones
	Outcomes map[string]uint64 // readings by capture.Outcomes, absences included
	Last     time.Duration     // length of the last exchange, wall time
	Longest  time.Duration     // of the longest
	Total    time.Duration     // of all
}

// State is an instrument's connection.
type State struct {
	Name     string
	Up       bool
	Identity capture.Identity // of the last connection
	Problem  string           // why it is not up; "" when it is
	Since    capture.Instant  // up, or away, since
	Doubtful bool             // up, but its readings belong to no rail until [Loop.Confirm]
	Losses   uint64           // connections that ended by themselves
	Resyncs  uint64           // times the driver had to find its place in the answers again
	LastAct  time.Duration    // from asking for the last act to its confirmation, wall time
	WorstAct time.Duration    // the longest of these
}

type stat struct {
	polls, missed        uint64
	outcomes             map[string]uint64
	last, longest, total time.Duration
}

// Stats returns a copy of every channel's counters, in the order in which the
// channels were given.
func (l *Loop) Stats() []Stat {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := make([]Stat, 0, len(l.channels))
	for _, c := range l.channels {
		s := c.stat
		out = append(out, Stat{
			Channel:  c.info.ID,
			Selected: c.group == nil || c.group.wanted == c.info.ID,
			Paused:   c.paused,
			Polls:    s.polls, Missed: s.missed, Outcomes: maps.Clone(s.outcomes),
			Last: s.last, Longest: s.longest, Total: s.total,
		})
	}
	return out
}

// States returns the state of every instrument of the link.
func (l *Loop) States() []State {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := make([]State, 0, len(l.units))
	for _, u := range l.units {
		out = append(out, u.state)
	}
	return out
}

// Link returns the link's address as it was given to [New].
func (l *Loop) Link() string { return l.link }

// setState changes an instrument's state and tells whoever wants to know.
func (l *Loop) setState(u *unit, change func(*State)) {
	l.mu.Lock()
	before := u.state
	change(&u.state)
	after := u.state
	l.mu.Unlock()
	if l.opts.OnState != nil && before != after {
		l.opts.OnState(after)
	}
}

func (l *Loop) count(c *channel, took time.Duration, missed int64) {
	l.mu.Lock()
	s := &c.stat
	s.polls++
	s.missed += uint64(missed)
	s.last, s.longest, s.total = took, max(s.longest, took), s.total+took
	l.mu.Unlock()
	if r, ok := c.unit.in.(interface{ Resyncs() uint64 }); ok {
		if n := r.Resyncs(); n != c.unit.resyncs {
			c.unit.resyncs = n
			l.setState(c.unit, func(st *State) { st.Resyncs = n })
		}
	}
}
