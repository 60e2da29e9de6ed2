package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// unrest judges how far the readings of a window scatter. The spread is robust:
// the stretch that holds the middle 80 % of the readings, as the standard
// deviation of a normal series of that stretch, so that a single outlier is no
// unrest. A slow change within the window counts as scatter too.
//
// It is never called ripple: a meter that integrates over mains cycles sees
// neither 100 Hz nor what a converter switches.
type unrest struct {
	base
	win    ordered
	limit  float64 // of the standard deviation
	spread float64
	high   bool
}

const (
	// UnrestWindow is what the spread is taken over, unless the rule says
	// otherwise; of slow readings it is as long as UnrestReadings take.
	UnrestWindow   = 10 * time.Second
	UnrestReadings = 20
	// middle80 is how many standard deviations of a normal distribution its
	// middle 80 % are wide: twice the 90 % quantile.
	middle80 = 2.5631031310892007
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
func (u *unrest) forget()                           { u.win.reset(); u.high = false }

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
	u.spread = u.win.middle(0.1) / middle80
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
	case u.high:
		return capture.Fail
	}
	return capture.Pass
}

func (u *unrest) Verdict() capture.Verdict {
	switch {
	case !u.known():
		return u.blank("No reading")
	case !u.enough():
		return u.blank(fmt.Sprintf("Not yet: %d readings, %d are needed", u.win.n, UnrestReadings))
	}
	v := u.blank(map[bool]string{true: "Restless: ", false: "Calm: "}[u.high] + u.scatter())
	v.Outcome, v.Value, v.Unit, v.Resolution = u.Outcome(), u.spread, u.unit().ASCII(), twoDigits(u.spread)
	v.From, v.To, v.N = u.win.from(), u.lastAt, u.win.n
	return v
}

func (u *unrest) scatter() string {
	return fmt.Sprintf("standard deviation %s over %d readings", u.digits(u.spread), u.win.n)
}

func (u *unrest) Finding() Finding {
	f := u.finding()
	f.Say = fmt.Sprintf("%s is restless: %s, limit %s", u.subject(), u.scatter(), u.digits(u.limit))
	f.Advice = "look at it with a scope: this meter cannot tell ripple from a bad joint; then at the joints and the output capacitors"
	return f
}

func (u *unrest) Recovery() Finding {
	f := u.finding()
	f.Say = fmt.Sprintf("%s is calm again: %s", u.subject(), u.scatter())
	return f
}

func (u *unrest) finding() Finding {
	return Finding{Value: u.spread, Limit: u.limit, Unit: u.unit().ASCII(), Evidence: []capture.Instant{u.win.from(), u.lastAt}}
}
