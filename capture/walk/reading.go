package walk

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// read takes a reading of the step's channel.
func (m *Machine) read(rec capture.Record, r capture.Reading) {
	if m.state == done || r.Channel != m.channel() || r.Measured != 0 && r.Measured < m.asked {
		return // it began before the rail was said
	}
	if !m.tells(r) {
		return
	}
	if m.gone {
		m.gone, m.note = false, ""
	}
	m.heard, m.seen, m.reading = m.now, m.looked(r), r
	open, touch := m.where(r)
	if open {
		if m.openSince == 0 {
			m.openSince = m.seen
		}
	} else {
		m.openSince = 0
	}
	m.clear = open
	counts := m.place != 0 && rec.At > m.place && rec.Job == m.setup.Job && !m.straddles(r)
	switch m.state {
	case lifting:
		m.lift(open, touch)
	case touching:
		if touch {
			m.state = holding
			m.steady(r)
		}
	case holding:
		m.touched(r, open, touch)
	case filing:
		m.file(r, open, touch, counts)
	case assuring:
		m.assure(r, open, touch)
	}
}

// looked is when a reading looked at the rail: the middle of its aperture where
// that is known, for a busy computer's records come unevenly and how fast a figure
// changes would seem to change with them. It never goes back.
func (m *Machine) looked(r capture.Reading) capture.Instant {
	return max(min(r.Sampled(m.now), m.now), m.seen+1)
}

// tells reports whether a reading says anything about the leads, and keeps why
// not.
func (m *Machine) tells(r capture.Reading) bool {
	switch {
	case r.Flags.Has(capture.Disconnected | capture.Mismatch):
		if !m.gone {
			m.lose("the meter is away: plug it in again")
		}
		return false
	case r.Flags.Has(capture.Refused):
		m.refused, m.heard = true, m.now
		m.openSince = 0
		m.drop()
		return false
	case r.Flags.Has(capture.Held | capture.LowBattery):
		m.held, m.heard = true, m.now
		m.openSince = 0
		m.drop()
		return false
	case r.Flags.Has(capture.TimedOut | capture.Garbled | capture.NotANumber):
		return false // it says nothing; silence is told by the ticks
	}
	m.refused, m.held = false, false
	return true
}

// drop gives a contact up whose meter shows something else now.
func (m *Machine) drop() {
	if m.state >= holding && m.state <= assuring {
		m.takeBack("the meter showed something else before the figure stood")
		m.state = lifting
		m.contact()
	}
}

// where tells open leads from a touch. A reading may be neither.
func (m *Machine) where(r capture.Reading) (open, touch bool) {
	if m.step.Quantity == capture.Resistance {
		open = r.Flags.Has(capture.OverRange)
		return open, !open
	}
	v := math.Abs(r.Value)
	return r.HasValue() && v < OpenBelow, !r.HasValue() || v >= TouchAbove
}

// lift waits until the leads are open for long enough.
func (m *Machine) lift(open, touch bool) {
	switch {
	case open && m.seen.Sub(m.openSince) >= LiftFor:
		m.state, m.note = touching, ""
	case touch && !m.urged && m.now.Sub(m.asked) >= UrgeAfter:
		m.urged = true // the eyes are on the board: it is not seen that nothing counts
		m.voice.sound("lift")
	}
}

// touched takes a reading of a touch that does not stand yet. One that is open is
// a bounce or a lift: the touch begins anew.
func (m *Machine) touched(r capture.Reading, open, touch bool) {
	if open || !touch {
		m.state, m.note = touching, ""
		m.contact()
		m.wide() // above the range that was held, or lifted: the widest tells
		return
	}
	m.steady(r)
}

// steady takes a reading of a touch and has it filed once it stands.
func (m *Machine) steady(r capture.Reading) {
	if m.touchedAt == 0 {
		m.touchedAt = m.seen
	}
	if !r.HasValue() {
		m.note = aboveRange
		m.settling = settling{}
		m.letRange()
		return
	}
	if m.narrower(r) || m.voltageSeen(r) { // the digits of a range too wide are no voltage
		return
	}
	if m.note == aboveRange {
		m.note = ""
	}
	m.settling.add(m.seen, m.value(r))
	stands, more := m.settling.steady(m.tolerance(r), m.noise(r))
	if m.stands = stands; !stands {
		if m.note = m.creeping(more); m.bound(r) {
			m.put()
		}
		return
	}
	if like := m.like(r); like != "" {
		if m.note = "that reads like " + like; !m.told {
			m.voice.sound("odd")
		}
		m.told = true
		return
	}
	m.note = ""
	m.put()
}

// creeping says that a figure does not stand yet, once that is worth saying, and
// how long it may take where that is known.
func (m *Machine) creeping(more time.Duration) string {
	lasts := m.settling.since(m.seen)
	switch {
	case lasts < SayAfter:
		return ""
	case more > 0 && m.step.Quantity == capture.Resistance:
		return fmt.Sprintf("charging a capacitor, about %.0f s more", math.Ceil(more.Seconds()))
	case more > 0:
		return fmt.Sprintf("still changing, about %.0f s more", math.Ceil(more.Seconds()))
	case lasts > Creeps:
		return "it does not stand yet"
	}
	return m.note
}
