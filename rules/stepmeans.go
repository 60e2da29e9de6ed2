package rules

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// StepMeans follows the levels of a job's clipped rails within one step of the
// plan of its soak: the same means over a minute that the report judges the soak
// by, of that step alone. What follows a switching is left out until the rails had
// time to come up. It is not safe for concurrent use; its zero value is ready.
type StepMeans struct {
	rails  []capture.Rail
	roster capture.Roster
	places capture.Placements
	course []capture.RegimenStep
	from   capture.Instant      // readings count from here on; 0: there is no step under power
	clips  []*stepClip          // in order of their first reading in the step
	down   []capture.Transition // alarms that say that a rail is down
}

// stepClip is one channel clipped to a rail in the step.
type stepClip struct {
	means
	ch capture.ChannelID
}

// Consume takes the next record of the job.
func (s *StepMeans) Consume(rec capture.Record) {
	switch it := rec.Item.(type) {
	case capture.Sheet:
		s.rails = it.Rails
	case capture.Roster:
		s.roster = merged(s.roster, it)
	case capture.Placement:
		_ = s.places.Apply(rec.At, it) // one that says nothing changes nothing
		s.broken("", it.Channel)
	case capture.Gap:
		s.broken("", "")
	case capture.Act:
		s.act(rec.At, it)
	case capture.Reading:
		s.read(rec.At, it)
	}
}

func (s *StepMeans) act(at capture.Instant, a capture.Act) {
	switch {
	case a.Verb == capture.ActRegimen:
		s.course, s.from, s.clips = nil, 0, nil
		if plan, err := capture.ParseRegimen(a.Text); err == nil {
			s.course = plan.Course()
		}
	case a.Verb == capture.ActSoakStep && a.Text == capture.StepBegun:
		s.begin(at, int(a.Value)-1)
	case a.Verb == capture.ActOutput && (a.Text == "off" || a.Text == capture.SwitchingOff):
		s.broken("", "")
	}
}

func (s *StepMeans) begin(at capture.Instant, i int) {
	s.from, s.clips = 0, nil
	if i < 0 || i >= len(s.course) || !s.course[i].Powered() {
		return
	}
	if s.from = at; s.course[i].Switches() {
		s.from = at.Add(comesUp)
	}
}

// Fell gives up the window of a rail that went down, and what follows until it is
// up: a mean across a fall is the level of nothing, and the alarm tells of it.
func (s *StepMeans) Fell(t capture.Transition) {
	if t.Kind != "collapse" && t.Kind != "missing" {
		return
	}
	s.down = slices.DeleteFunc(s.down, func(o capture.Transition) bool { return o.Alarm == t.Alarm })
	if t.To.IsActive() {
		s.down = append(s.down, t)
	}
	s.broken(t.Rail, "")
}

// broken gives up the open windows of a rail or a channel, or all of them.
func (s *StepMeans) broken(rail string, ch capture.ChannelID) {
	for _, c := range s.clips {
		if (rail == "" || c.rail.Name == rail) && (ch == "" || c.ch == ch) {
			c.restart(0)
		}
	}
}

func (s *StepMeans) read(at capture.Instant, r capture.Reading) {
	if s.from == 0 {
		return
	}
	p, _, placed := s.places.Now(r.Channel)
	if !placed || p.Rail == "" || p.Hold != capture.Clipped || slices.ContainsFunc(s.down, func(t capture.Transition) bool { return t.Rail == p.Rail }) {
		return
	}
	i := slices.IndexFunc(s.clips, func(c *stepClip) bool { return c.ch == r.Channel && c.rail.Name == p.Rail })
	if i < 0 {
		if i = s.clip(r.Channel, p); i < 0 {
			return
		}
	}
	if at >= s.from {
		s.clips[i].read(at, r)
	}
}

// clip begins to follow a channel, when what it reads is evidence.
func (s *StepMeans) clip(ch capture.ChannelID, p capture.Placement) int {
	info, known := s.roster.Channel(ch)
	rail := slices.IndexFunc(s.rails, func(r capture.Rail) bool { return r.Name == p.Rail })
	if !known || rail < 0 || info.Quantity != capture.DCVoltage || info.Setpoint {
		return -1
	}
	on := func(capture.Instant) bool { return false } // [StepMeans.act] hears of outputs
	s.clips = append(s.clips, &stepClip{ch: ch, means: means{info: info, rail: s.rails[rail], place: p, off: on}})
	return len(s.clips) - 1
}

// Say says what the rails came to in the step, in order of the sheet: the worst
// mean with its expanded uncertainty and outcome, or that there was none. It is
// empty where no clip gave a reading.
func (s *StepMeans) Say() string {
	var out, short []string
	for _, rail := range s.rails {
		var worst *capture.SoakFigure
		clipped := false
		for _, c := range s.clips {
			if c.rail.Name == rail.Name {
				clipped, worst = true, worse(rail, worst, c.worst)
			}
		}
		switch {
		case worst != nil:
			out = append(out, rail.Name+" "+strings.TrimSuffix(level(worst), "."))
		case clipped:
			short = append(short, rail.Name)
		}
	}
	switch {
	case len(short) > 0 && len(out) == 0:
		return "too short for a mean over a minute"
	case len(short) > 0:
		out = append(out, strings.Join(short, ", ")+" too short for a mean over a minute")
	}
	return strings.Join(out, "; ")
}
