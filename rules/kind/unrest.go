package kind

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// unrest judges how far the readings of a window scatter. The spread is robust:
// the stretch that holds the middle 80 % of the readings, as the standard
// deviation of a normal series of that stretch, so that a single outlier is no
// unrest. A slow change within the window counts as scatter too.
//
// The verdict is held against the interval of 95.45 % of that standard deviation:
// from the readings that count as independent, taken as normal, and from the
// meter's last digit. It passes when the whole interval lies within the limit,
// fails when the whole of it lies beyond, and cannot tell between, or where too few
// readings are independent. The alarm goes by the figure itself, with on-delay and
// deadband.
//
// What scatters is the rail and the meter together: no maker's statement of
// accuracy says how far the meter scatters by itself, and nothing is taken off for
// it. So a pass is one of the rail; a fail may be the meter's, which the verdict
// says.
//
// It is never called ripple: a meter that integrates over mains cycles sees
// neither 100 Hz nor what a converter switches.
type unrest struct {
	base
	win       ordered
	limit     float64 // of the standard deviation
	spread    float64
	low, most float64 // its interval
	high      bool    // condition, with the deadband
	scatter   scatter
}

const (
	// UnrestWindow is what the spread is taken over, unless the rule says
	// otherwise; of slow readings it is as long as UnrestReadings take.
	UnrestWindow   = 10 * time.Second
	UnrestReadings = 20
)

func newUnrest(c Case) Judge {
	return &unrest{base: base{Case: c}, limit: unrestLimit(c.Rule, c.Rail)}
}

// unrestLimit is the standard deviation above which a rail is restless: a
// twentieth of its band, the project's own choice, so that four of them to
// either side still fit in.
func unrestLimit(rule capture.Rule, rail capture.Rail) float64 {
	if rule.Limit != 0 {
		return abs(rule.Limit)
	}
	return rail.HalfBand() / 10
}

func (u *unrest) Sit(at capture.Instant, seat Seat) { u.base.Sit(at, seat); u.forget() }
func (u *unrest) Blind(capture.Instant)             { u.lastAt = 0; u.forget() }
func (u *unrest) forget()                           { u.win.reset(); u.high, u.scatter = false, scatter{} }

func (u *unrest) span() time.Duration {
	return orDefault(u.Rule.Window, max(UnrestWindow, UnrestReadings*u.seat.Channel.Every))
}

func (u *unrest) Read(at capture.Instant, r *capture.Reading) {
	if !u.keep(at, r) {
		return
	}
	u.win.add(at, r.Value, u.span())
	if !u.enough() {
		u.high = false
		return
	}
	u.follow(r)
	u.spread = u.win.middle(0.1) / middle80
	u.low, u.most = u.scatter.bounds(u.spread)
	u.high = u.spread > u.limit || u.high && u.spread > u.limit-u.Rule.Deadband
}

func (u *unrest) enough() bool { return u.win.n >= UnrestReadings }

func (u *unrest) Condition() Condition {
	switch {
	case u.lastAt == 0 || !u.enough():
		return Unknown
	case u.high:
		return Present
	}
	return Absent
}

func (u *unrest) Outcome() capture.Outcome {
	switch {
	case !u.known() || !u.enough():
		return capture.NoData
	case u.most <= u.limit:
		return capture.Pass
	case u.low > u.limit:
		return capture.Fail
	case u.spread <= u.limit:
		return capture.ConditionalPass
	}
	return capture.ConditionalFail
}

func (u *unrest) Verdict() capture.Verdict {
	switch {
	case !u.known():
		return u.blank("No reading")
	case !u.enough():
		return u.blank(fmt.Sprintf("Not yet: %d readings, %d are needed", u.win.n, UnrestReadings))
	}
	v := u.blank("")
	v.Outcome, v.Value, v.Unit, v.Resolution = u.Outcome(), u.spread, u.unit().ASCII(), twoDigits(u.spread)
	v.From, v.To, v.N = u.win.from(), u.lastAt, u.win.n
	v.Say, v.Note = u.judgement(v.Outcome), "rail and meter together"
	v.Indicated, v.Overdue = !u.scatter.u.Stated, u.due.passed(u.lastAt)
	if !math.IsInf(u.most, 1) {
		v.Uncertainty = (u.most - u.low) / 2
	}
	return v
}

// judgement puts the spread in words, with its interval.
func (u *unrest) judgement(o capture.Outcome) string {
	word := map[capture.Outcome]string{capture.Pass: "Calm: ", capture.Fail: "Restless: "}[o]
	switch {
	case math.IsInf(u.most, 1):
		return "Cannot tell, the readings hang together: " + u.said()
	case word == "":
		word = "Cannot tell: "
	}
	return word + u.said() + fmt.Sprintf(" (%s to %s), limit %s", u.digits(u.low), u.digits(u.most), u.digits(u.limit))
}

func (u *unrest) said() string {
	return fmt.Sprintf("standard deviation %s over %d readings", u.digits(u.spread), u.win.n)
}

func (u *unrest) Finding() Finding {
	f := u.finding()
	f.Say = fmt.Sprintf("%s is restless: %s, limit %s", u.subject(), u.said(), u.digits(u.limit))
	f.Advice = "put the leads together: what scatters then is the meter; else look with a scope, for this meter cannot tell ripple from a bad joint, then at the joints and the output capacitors"
	return f
}

func (u *unrest) Recovery() Finding {
	f := u.finding()
	f.Say = fmt.Sprintf("%s is calm again: %s", u.subject(), u.said())
	return f
}

func (u *unrest) finding() Finding {
	return Finding{Value: u.spread, Limit: u.limit, Unit: u.unit().ASCII(), Evidence: []capture.Instant{u.win.from(), u.lastAt}}
}
