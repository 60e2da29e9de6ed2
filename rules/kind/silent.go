package kind

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// silent judges whether the channel that watches a rail still gives readings
// that may be judged. Silence is never a pass: readings that are missing, out
// of range, held or taken on a low battery all count as silence.
//
// Digits that stay the same for longer than a meter's noise allows are not
// judged here.
type silent struct {
	base
	goodAt capture.Instant // newest good reading, or when watching began
	good   bool            // there was one since watching began
	flags  capture.Flags   // of the newest reading without a value; 0: no answer at all
	mute   bool
	since  capture.Instant // the last good reading before this silence
	ended  bool            // that silence is over
	standing
	of map[string]standing // by instrument: who is away is known before a channel of it is put here
}

// standing is what was said of an instrument's link last.
type standing struct {
	lost string // why the instrument is away; empty: it is not
	tap  bool   // nobody can say which meter answers
}

// Silence begins after SilentIntervals poll intervals without a good reading,
// and not before SilentLeast.
const (
	SilentIntervals = 10
	SilentLeast     = 3 * time.Second
)

func impliedSilent(r capture.Rail) (capture.Rule, bool) {
	return impliedRule("silent", r, capture.Warning), true
}

func newSilent(c Case) Judge { return &silent{base: base{Case: c}} }

func (s *silent) Sit(at capture.Instant, seat Seat) {
	s.standing = s.of[seat.Channel.ID.Instrument()]
	s.base.Sit(at, seat)
	s.goodAt, s.now, s.good, s.flags, s.mute = at, at, false, 0, false
}

func (s *silent) Arm(at capture.Instant, a Arming) {
	if a.Armed && !s.arming.Armed {
		s.goodAt, s.now, s.good, s.mute = max(s.goodAt, at), at, false, false
	}
	s.base.Arm(at, a)
}

// Blind: nobody could have heard the channel meanwhile.
func (s *silent) Blind(at capture.Instant) { s.goodAt, s.now, s.good, s.mute = at, at, false, false }

// Act keeps what is said of the instrument.
func (s *silent) Act(_ capture.Instant, act *capture.Act) {
	now, flags := s.of[act.Subject], s.flags
	switch act.Verb {
	case capture.ActLinkLost:
		// Whether it is gone or another one answers, its next reading says.
		now, flags = standing{lost: act.Text}, capture.Disconnected
	case capture.ActLinkBack:
		now.lost, flags = "", 0
	case capture.ActTap:
		now.tap = act.Text == capture.TapWanted
	default:
		return
	}
	if s.of == nil {
		s.of = map[string]standing{}
	}
	s.of[act.Subject] = now
	if s.seated() && act.Subject == s.seat.Channel.ID.Instrument() {
		s.standing, s.flags = now, flags
	}
}

func (s *silent) patience() time.Duration {
	n := SilentIntervals
	if s.Rule.Count > 0 {
		n = s.Rule.Count
	}
	return borne(&s.seat.Channel, n, orDefault(s.Rule.Window, SilentLeast))
}

func (s *silent) Read(at capture.Instant, r *capture.Reading) {
	if s.keep(at, r) {
		s.goodAt, s.good, s.flags, s.mute, s.ended = at, true, 0, false, true
		return
	}
	s.flags = r.Flags & capture.NoVerdict
}

func (s *silent) Tick(at capture.Instant) {
	s.now = at
	// Another instrument is no silence that may pass: it is told as soon as both
	// are known by name, and until a reading counts again.
	s.mute = s.arming.Armed && (s.mute || s.another() || s.now.Sub(s.goodAt) >= s.patience())
	if s.mute && (s.ended || s.since == 0) {
		s.since, s.ended = s.goodAt, false
	}
}

// another reports whether another instrument answers and the record says which,
// and which was meant.
func (s *silent) another() bool { return s.flags.Has(capture.Mismatch) && s.lost != "" }

// Story: a link that is gone may come back by itself, one at which another
// instrument answers does not. Who that is goes with it.
func (s *silent) Story() string {
	if s.another() {
		return s.lost
	}
	return ""
}

func (s *silent) Condition() Condition {
	switch {
	case s.mute:
		return Present
	case !s.good:
		return Unknown
	}
	return Absent
}

func (s *silent) Outcome() capture.Outcome {
	switch {
	case !s.arming.Armed:
		return capture.NoData
	case s.mute:
		return capture.Fail
	case s.good:
		return capture.Pass
	}
	return capture.NoData
}

func (s *silent) Verdict() capture.Verdict {
	v := s.blank("No reading")
	v.Outcome, v.From, v.To = s.Outcome(), s.armedAt, s.goodAt
	switch {
	case !s.arming.Armed:
		v.Say = s.unwatched()
	case v.Outcome == capture.Pass:
		v.Say = "Reads"
	}
	return v
}

func (s *silent) Finding() Finding {
	why, advice := s.reason()
	return Finding{
		Say: fmt.Sprintf("No reading on %s for %s s: %s %s", s.Rail.Name,
			seconds(s.now.Sub(s.goodAt)), s.seat.Channel.ID.Instrument(), why),
		Advice: advice, Value: s.now.Sub(s.goodAt).Seconds(), Limit: s.patience().Seconds(), Unit: "s",
		Evidence: []capture.Instant{s.goodAt},
	}
}

func (s *silent) reason() (why, advice string) {
	switch {
	case s.flags.Has(capture.Disconnected):
		return "is disconnected", "look at its cable and its power; nothing is filed until it has told who it is"
	case s.flags.Has(capture.Mismatch):
		return "is another instrument than was expected" + s.because(), "put the expected one back, or change the configuration"
	case s.flags.Has(capture.OverRange | capture.UnderRange):
		return "is out of its range", "set a higher range, and look at the rail with another meter"
	case s.flags.Has(capture.Held):
		return "is on hold", "release the hold"
	case s.flags.Has(capture.LowBattery):
		return "has a low battery", "change the battery: until then it may read high"
	case s.tap:
		return "has not been confirmed since it was connected", "touch the rail with it: steadyrail tap " + s.seat.Channel.ID.Instrument() + " RAIL"
	case s.flags != 0:
		return "gives no usable answer (" + strings.ReplaceAll(s.flags.String(), "_", " ") + ")", "look at its display and its cable"
	}
	return "does not answer", "has it switched itself off?"
}

// because names both instruments, where the loss was told with them.
func (s *silent) because() string {
	if s.lost == "" {
		return ""
	}
	return " (" + s.lost + ")"
}

func (s *silent) Recovery() Finding {
	quiet := s.goodAt.Sub(s.since)
	return Finding{
		Say:   fmt.Sprintf("%s reads again after %s s of silence", s.Rail.Name, seconds(quiet)),
		Value: quiet.Seconds(), Limit: s.patience().Seconds(), Unit: "s",
		Evidence: []capture.Instant{s.since, s.goodAt},
	}
}
