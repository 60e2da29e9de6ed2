package kind

import (
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// Null is what the leads of a subject were found to have. They are nulled away
// from the rail, before the channel sits on it.
type Null struct {
	Subject string  // channel or instrument; "": whatever measures resistance
	Ohms    float64 // newest
	At      capture.Instant
	all     trend.Moments
}

const (
	// tips is what hand-held tips scatter by from contact to contact, in ohm
	// (common practice: some ten milliohm).
	tips = 0.01
	// otherLeads is by how much a null must differ from those before, in ohm, to be
	// one of other leads, or to mend one that was mistyped: common leads have 0.1 to
	// 0.5 (common practice), and contacts scatter by less.
	otherLeads = 0.5
	// NullLasts is how long a null holds: tips tarnish, plugs work loose and leads
	// are changed (the project's own choice: half a working day). It ends with the
	// job in any case.
	NullLasts = 4 * time.Hour
)

// again takes a null of the same leads. Those before an expired one say nothing
// of the scatter of today, nor do those of other leads, or one that was mistyped:
// it would make each resistance doubtful by ohms, for hours.
func (n Null) again(at capture.Instant, ohms float64) Null {
	if n.Old(at) || math.Abs(ohms-n.Ohms) > otherLeads {
		n.all = trend.Moments{}
	}
	n.Ohms, n.At = ohms, at
	n.all.Add(ohms)
	return n
}

// Scatter is the standard uncertainty of what was taken off, in ohm: how far the
// nulls of the same leads scattered, and not less than tips do.
func (n Null) Scatter() float64 { return max(tips, n.all.SD()) }

// N is how many nulls of the same leads it rests on.
func (n Null) N() int { return int(n.all.N()) }

// Until is when it expires.
func (n Null) Until() capture.Instant { return n.At.Add(NullLasts) }

// Old reports whether it has expired.
func (n Null) Old(at capture.Instant) bool { return n.At != 0 && at > n.Until() }

// concerns reports whether a null named so is about a channel.
func (n Null) concerns(id capture.ChannelID) bool {
	return n.Subject == "" || n.Subject == string(id) || n.Subject == id.Instrument()
}

// Say tells what the leads were nulled at, and what is to be done.
func (n Null) Say(now capture.Instant) string {
	if n.Old(now) {
		return fmt.Sprintf("older than %.0f h: hold the probes together and null again", NullLasts.Hours())
	}
	scatter := capture.Ohm.Text(n.Scatter(), 0.001)
	if n.N() < 3 {
		return fmt.Sprintf("± %s is assumed: null three times to know how the tips scatter", scatter)
	}
	return fmt.Sprintf("± %s, scatter of %d nulls", scatter, n.N())
}

// Nulls folds nulls in the order of the record. The zero value is ready.
type Nulls struct{ list []Null } // newest last, one for each subject

// Add takes a null.
func (f *Nulls) Add(at capture.Instant, subject string, ohms float64) {
	n := Null{Subject: subject}
	if i := slices.IndexFunc(f.list, func(n Null) bool { return n.Subject == subject }); i >= 0 {
		n = f.list[i]
		f.list = slices.Delete(f.list, i, i+1)
	}
	f.list = append(f.list, n.again(at, ohms))
}

// List returns the newest null of each subject, in order.
func (f *Nulls) List() []Null { return slices.Clone(f.list) }

// of finds the newest null of a channel.
func (f *Nulls) of(id capture.ChannelID) (found Null, ok bool) {
	for _, n := range f.list {
		if n.concerns(id) {
			found, ok = n, true
		}
	}
	return found, ok
}

// Of returns the null that is taken off what a channel reads at an instant.
func (f *Nulls) Of(id capture.ChannelID, at capture.Instant) (Null, bool) {
	n, ok := f.of(id)
	return n, ok && !n.Old(at)
}

// keepNull takes an act that says what the leads have; a steady run of readings
// begins anew, for their figures are other ones now.
func (s *short) keepNull(at capture.Instant, act *capture.Act) {
	s.nulls.Add(at, act.Subject, act.Value)
	s.run = steadyRun{}
	s.takeNull(at)
}

// takeNull takes the newest null of the channel that sits on the rail. One that
// has expired is not taken off any more, and the readings before cannot be
// joined to those after.
func (s *short) takeNull(at capture.Instant) {
	n, ok := s.nulls.of(s.seat.Channel.ID)
	before := s.nulled
	s.lead, s.leadU, s.nulled, s.stale = 0, 0, false, false
	switch {
	case !ok:
	case n.Old(at):
		s.stale = true
	default:
		s.lead, s.leadU, s.nulled = n.Ohms, n.Scatter(), true
	}
	if before && !s.nulled {
		s.run = steadyRun{}
	}
	s.nullEnds = n.Until()
}
