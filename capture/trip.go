package capture

import (
	"slices"
	"strings"
)

// ByTrip is who does what a trip does: [Act.By] of its acts.
const ByTrip = "trip"

// ActReadBack is the act of a supply that was asked for its protection and the
// state of its output, and told to change nothing. Subject is the output. In a
// record it stands only when everything agreed: Text is what was read back.
const ActReadBack Verb = "read back"

// ActInject is the act of a small, timed current into a rail that is short.
// Subject is the output; Text "start" with the amounts, or why it ended; Value
// its length in seconds, at the start.
const ActInject Verb = "inject"

// The names of a supply's protection, as [Act.Text] of [ActLimits] has them.
const (
	OverVoltage = "over-voltage"
	OverCurrent = "over-current"
)

// TripCaution is what stands beside every trip.
var TripCaution = [2]string{
	"A trip is a second line, not a safety device; charged capacitors stay charged.",
	"Local codes and licensed practice govern this work.",
}

// Protection is what is known of an output's own protection.
type Protection struct {
	Subject string // "supply" or "supply/1"
	Voltage string // over-voltage as it was programmed and read back: "26"; "": it was not
	Current string // over-current likewise
	// Whether each is known to act: GuardOn, GuardAlways, else it may be off.
	VoltageState, CurrentState string

	Away  bool // the link is lost
	Lost  bool // the link was lost, and the protection was not read back since
	Doubt bool // that, or nobody was there for a while, or another job set it
	Since Instant
	// Elsewhere is who set it in another job since it was read back here; "": nobody.
	Elsewhere string
}

// Programmed reports whether both were programmed and read back.
func (p Protection) Programmed() bool { return p.Voltage != "" && p.Current != "" }

// Armed reports whether a trip through the output can be relied on now: its
// protection was programmed and read back, and nothing came between.
func (p Protection) Armed() bool { return p.Programmed() && !p.Away && !p.Doubt }

func (p *Protection) sure(at Instant) {
	p.Away, p.Lost, p.Doubt, p.Since, p.Elsewhere = false, false, false, at, ""
}

// readBack takes what was read back. A text without levels says how the output is,
// and nothing of its protection.
func (p *Protection) readBack(at Instant, text string) {
	p.states(text)
	if named(text, OverVoltage) || named(text, OverCurrent) {
		p.sure(at)
	}
}

// Text writes the protection as the text of [ActReadBack]: a state is asked for
// where it was confirmed before. For people there is [Protection.Claim].
func (p Protection) Text() string {
	var out []string
	for _, g := range p.sides() {
		held := g.name + " " + g.level
		if g.state == GuardOn {
			held = Guarded(held, g.state)
		}
		out = append(out, held)
	}
	return strings.Join(out, ", ")
}

// Protections is what a job's records tell of the protection of its supplies.
// Limits stand in a record only when they were read back, so it follows from
// acts and gaps alone. The zero value knows of none. Not safe for concurrent use.
type Protections struct{ list []Protection }

// Consume takes the next record of the job.
func (p *Protections) Consume(rec Record) {
	switch it := rec.Item.(type) {
	case Act:
		p.act(rec.At, it)
	case Gap:
		if !it.Ticked { // nobody was there: it may have been switched off and on
			for i := range p.list {
				p.list[i].Doubt, p.list[i].Since = true, rec.At
			}
		}
	}
}

func (p *Protections) act(at Instant, a Act) {
	switch a.Verb {
	case ActLimits:
		p.limits(at, a)
	case ActElsewhere:
		p.elsewhere(at, a)
	case ActReadBack:
		p.each(a.Subject, func(q *Protection) { q.readBack(at, a.Text) })
	case ActLinkLost:
		p.each(a.Subject, func(q *Protection) { q.Away, q.Lost, q.Doubt, q.Since = true, true, true, at })
	case ActLinkBack:
		p.each(a.Subject, func(q *Protection) { q.Away = false })
	}
}

// each hands over the outputs that a subject means: one, or all of an instrument.
func (p *Protections) each(subject string, f func(*Protection)) {
	for i := range p.list {
		if q := &p.list[i]; q.Subject == subject || (Act{Subject: q.Subject}).Instrument() == subject {
			f(q)
		}
	}
}

// limits takes protection that was programmed. Both set anew lift a doubt; one
// alone says nothing about the other.
func (p *Protections) limits(at Instant, a Act) {
	ovp, ocp := LimitIn(a.Text, OverVoltage), LimitIn(a.Text, OverCurrent)
	if ovp == "" && ocp == "" {
		return
	}
	i := slices.IndexFunc(p.list, func(q Protection) bool { return q.Subject == a.Subject })
	if i < 0 {
		p.list = append(p.list, Protection{Subject: a.Subject})
		i = len(p.list) - 1
	}
	q := &p.list[i]
	q.states(a.Text)
	if ovp != "" {
		q.Voltage = ovp
	}
	if ocp != "" {
		q.Current = ocp
	}
	if ovp != "" && ocp != "" {
		q.sure(at)
	}
}

// Of returns what is known of an output: nothing but its name when its
// protection was never programmed.
func (p *Protections) Of(subject string) Protection {
	for _, q := range p.list {
		if q.Subject == subject {
			return q
		}
	}
	return Protection{Subject: subject}
}

// All lists the outputs of which anything was programmed, in that order.
func (p *Protections) All() []Protection { return slices.Clone(p.list) }

// LimitIn returns the figure that stands behind a name in the text of limits:
// "26" behind over-voltage in "volts 24, over-voltage 26". "" when it does not.
func LimitIn(text, name string) string {
	for part := range strings.SplitSeq(text, ",") {
		if n, figure, ok := strings.Cut(strings.TrimSpace(part), " "); ok && n == name {
			figure, _, _ = strings.Cut(figure, "(") // what is known of its state, see [Guarded]
			return strings.TrimSpace(figure)
		}
	}
	return ""
}

// Tripped reports whether an act is a trip's, and done: the output read back as
// off. [Act.Value] is then the time in seconds from the reading that raised the
// alarm to that.
func (a Act) Tripped() bool { return a.Verb == ActOutput && a.By == ByTrip && a.Text == "off" }

// Concerns reports whether an act on outputs is about this one: it names it, or
// all of its instrument.
func (a Act) Concerns(output string) bool {
	return a.Subject == output || a.Subject == (Act{Subject: output}).Instrument()
}

// ReadsOff reports whether the text of a [ActReadBack] says that the output is
// off.
func ReadsOff(text string) bool {
	first, _, _ := strings.Cut(text, ",")
	return first == "output off"
}
