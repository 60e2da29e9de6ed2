package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// settled judges whether a warm-up is over: what it still has to bring, slope
// times time constant, lies with its uncertainty below the smaller of a tenth of
// the band and a third of the meter's uncertainty (see [trend.Settle]). Nothing
// is foretold before two time constants, and a slower warming behind the first
// one is looked for. A pass is "settled".
//
// It is an alarm only where the rule says by when, in window, counted from when
// it is watched on this contact.
type settled struct {
	base
	watch trend.Cells
	pace  pace
	found trend.Settling
	least float64         // limit of the newest reading's meter: what may still be to come
	done  bool            // it has settled, and has not moved again since
	from  capture.Instant // watched since
}

func newSettled(c Case) Judge { return &settled{base: base{Case: c}, watch: trend.NewCells()} }

func (s *settled) Sit(at capture.Instant, seat Seat) { s.base.Sit(at, seat); s.forget(at) }

// Blind: the warm-up goes on unseen, so what was seen before cannot be joined to
// what comes.
func (s *settled) Blind(at capture.Instant) {
	s.lastAt = 0
	s.forget(s.from)
}

func (s *settled) forget(at capture.Instant) {
	s.watch.Reset()
	s.pace, s.found, s.done, s.from = pace{}, trend.Settling{}, false, at
}

func (s *settled) Arm(at capture.Instant, a Arming) {
	if a.Armed && !s.arming.Armed {
		s.forget(at)
	}
	s.base.Arm(at, a)
}

// allowed is what may still be to come.
func (s *settled) allowed() float64 {
	if s.Rule.Limit != 0 {
		return abs(s.Rule.Limit)
	}
	limit := s.Rail.HalfBand() / 5
	if u := uncertainty.State(uncertainty.Of(s.last, s.seat.Channel.Accuracy)); u.Stated && s.Rule.Of == "" {
		limit = min(limit, u.Expanded/3)
	}
	return limit
}

func (s *settled) Read(at capture.Instant, r *capture.Reading) {
	if !s.keep(at, r) || !s.arming.Armed {
		return
	}
	if s.watch.Add(at, r.Value); s.pace.due(s.watch.Span()) {
		s.least = s.allowed()
		s.found = trend.Settle(s.watch.Points(), trend.SettleOptions{Limit: s.least, Unit: s.unit(), Resolution: r.Resolution})
		s.done = s.found.Settled || s.done && !s.moves()
	}
}

// moves reports whether what remains is surely more than the limit. What has
// settled stays so until then: at the limit itself the noise decides each time.
func (s *settled) moves() bool {
	least := s.found.AtLeast / 4 // no time constant shows: a slope in the noise is soon a millivolt
	if s.found.Known {
		least = abs(s.found.Remaining) - float64(2*s.found.U)
	}
	return least > s.least
}

// late reports whether it had to be settled by now.
func (s *settled) late() bool { return s.Rule.Window > 0 && s.now.Sub(s.from) >= s.Rule.Window }

func (s *settled) Outcome() capture.Outcome {
	switch {
	case !s.arming.Armed || !s.known():
		return capture.NoData
	case s.done:
		return capture.Pass
	case s.late():
		return capture.Fail
	}
	return capture.NoData
}

func (s *settled) Condition() Condition {
	switch s.Outcome() {
	case capture.Pass:
		return Absent
	case capture.Fail:
		return Present
	}
	return Unknown
}

func (s *settled) Verdict() capture.Verdict {
	v := s.blank(s.unwatched())
	switch {
	case !s.arming.Armed:
		return v
	case !s.known():
		return s.blank("No reading")
	}
	v.Say = s.said()
	v.Outcome, v.Value, v.Uncertainty, v.Unit = s.Outcome(), s.found.Remaining, float64(2*s.found.U), s.unit().ASCII()
	v.Resolution, v.From, v.To, v.N = twoDigits(s.least), s.from, s.lastAt, len(s.watch.Points())
	return v
}

func (s *settled) said() string {
	switch {
	case s.found.Say == "":
		return "Not yet: too few readings"
	case s.done && !s.found.Settled:
		return "Settled, and has not surely moved since"
	}
	return s.found.Say
}

func (s *settled) Finding() Finding {
	f := s.finding()
	f.Say = fmt.Sprintf("%s has not settled within %d min: %s", s.subject(), s.Rule.Window/time.Minute, lower(s.said()))
	f.Advice = "trim nothing yet: leave it warming with its covers on, and look for what still heats"
	return f
}

func (s *settled) Recovery() Finding {
	f := s.finding()
	f.Say = fmt.Sprintf("%s has settled: at most %s to go", s.subject(), s.digits(s.least))
	return f
}

func (s *settled) finding() Finding {
	return Finding{Value: s.found.Remaining, Limit: s.least, Unit: s.unit().ASCII(), Evidence: []capture.Instant{s.from, s.lastAt}}
}
