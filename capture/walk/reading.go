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
	m.heard, m.reading = m.now, r
	open, touch := m.where(r)
	if open {
		if m.openSince == 0 {
			m.openSince = m.now
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
	case open && m.now.Sub(m.openSince) >= LiftFor:
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

// narrower has the meter go down to the range that fits a resistance, and
// reports whether it was told to: what was read on the way does not count.
func (m *Machine) narrower(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || m.ranged == 0 {
		return false
	}
	fits := float64(m.room(r) * (math.Abs(r.Value) + float64(3*r.Resolution)))
	if fits >= m.ranged/10 {
		return false
	}
	m.settling = settling{}
	m.hold(fits)
	return true
}

// fitRange leaves room for a capacitor that goes on charging, chargeRange for one
// that may have begun just now: a range too small looks like a lift.
const (
	fitRange    = 3
	chargeRange = 10
)

// room is how many times the reading the range has to hold.
func (m *Machine) room(r capture.Reading) float64 {
	if n := len(m.settling.kept); n > 0 && math.Abs(r.Value-m.settling.kept[n-1].v) <= m.same(r) {
		return fitRange
	}
	return chargeRange
}

// letRange has a meter whose held range is too small range by itself.
func (m *Machine) letRange() {
	if m.step.Quantity == capture.DCVoltage {
		m.hold(0)
	}
}

const aboveRange = "above the meter's range"

// steady takes a reading of a touch and has it filed once it stands.
func (m *Machine) steady(r capture.Reading) {
	if m.touchedAt == 0 {
		m.touchedAt = m.now
	}
	if !r.HasValue() {
		m.note = aboveRange
		m.settling = settling{}
		m.letRange()
		return
	}
	if m.voltageSeen(r) || m.narrower(r) {
		return
	}
	if m.note == aboveRange {
		m.note = ""
	}
	m.settling.add(m.now, m.value(r))
	stands, more := m.settling.steady(m.tolerance(r), m.noise(r))
	if m.stands = stands; !stands {
		if m.note = m.creeping(more); more > 0 && m.bound(r) {
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
	lasts := m.settling.since(m.now)
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

// put has the channel placed.
func (m *Machine) put() {
	if m.step.Quantity == capture.Resistance && !m.proven(m.step.Rail, m.now) {
		m.stale()
		return
	}
	if m.settling.n > 0 {
		m.mean, m.meanAt = m.settling.kept[len(m.settling.kept)-1].v, m.now
	}
	m.state, m.placing, m.filed = filing, true, settling{}
	m.do = append(m.do, Do{Kind: Place, Step: m.step, Why: m.why()})
}

func (m *Machine) why() string {
	switch {
	case m.said:
		return "walk, the touch said by the pedal"
	case m.charge != (charging{}):
		return "walk, still charging: at least what it reads"
	case m.forced:
		return "walk, not standing, filed by the pedal"
	case m.sure:
		return "walk, the rail confirmed by the pedal"
	}
	return "walk"
}

// file counts what is filed, and takes it all back at the first reading that
// does not agree.
func (m *Machine) file(r capture.Reading, open, touch, counts bool) {
	if !m.agrees(r, open, touch) {
		m.anew(r, open, touch)
		return
	}
	if !counts {
		return
	}
	m.filed.add(m.now, m.value(r))
	if m.filed.n >= m.needs() && m.filed.since(m.now) >= m.span() && m.judged() {
		m.state, m.filedLast = assuring, r
		m.do = append(m.do, Do{Kind: Off, Step: m.step, At: m.place})
	}
}

// assure looks at one more reading, which is not filed: a slip to a point that
// happened to read alike, just when a capacitor charged through the figure, is
// seen by it. Who lifts before the beep has filed nothing.
func (m *Machine) assure(r capture.Reading, open, touch bool) {
	if m.agrees(r, open, touch) {
		m.got(m.filedLast)
		return
	}
	m.anew(r, open, touch)
}

// anew takes an attempt back and begins the touch anew.
func (m *Machine) anew(r capture.Reading, open, touch bool) {
	m.takeBack("the touch ended before the figure was filed")
	m.contact()
	m.state = touching
	if open {
		m.wide()
	}
	if touch {
		m.state = holding
		m.steady(r)
	}
}

func (m *Machine) needs() int {
	if m.step.Quantity == capture.Resistance {
		return fileOhms
	}
	return fileVolts
}

func (m *Machine) span() time.Duration {
	if m.step.Quantity == capture.Resistance {
		return spanOhms
	}
	return spanVolts
}

// agrees reports whether a reading is of the same touch.
func (m *Machine) agrees(r capture.Reading, open, touch bool) bool {
	switch {
	case m.said:
		return !touch
	case open || !touch || !r.HasValue():
		return false
	case m.forced:
		return true
	}
	near := math.Abs(m.value(r)-m.mean) <= m.same(r)
	if m.charge != (charging{}) {
		near = m.onCurve(r)
	}
	m.mean, m.meanAt = m.value(r), m.now
	return near
}

// same is how far one filed reading may lie from the one before, so that a slip
// to another point is seen at once: in ohms 1 %, and what a capacitor whose rest
// is within the tolerance may still add in the time between them.
func (m *Machine) same(r capture.Reading) float64 {
	if m.step.Quantity != capture.Resistance {
		return m.tolerance(r)
	}
	part := 0.01 + float64(0.03*m.now.Sub(m.meanAt).Seconds())
	return max(0.05, float64(min(part, 0.05)*math.Abs(r.Value)), float64(3*r.Resolution))
}

// voltageSeen notices that what an ohmmeter shows is a voltage: a resistance
// below nothing. The rail is not dead, and is asked in volts again.
func (m *Machine) voltageSeen(r capture.Reading) bool {
	if m.step.Quantity != capture.Resistance || !r.HasValue() && !r.Flags.Has(capture.UnderRange) {
		return false
	}
	if r.HasValue() && r.Value >= -max(0.5, float64(3*r.Resolution)) {
		return false
	}
	delete(m.figures, Step{m.step.Rail, capture.DCVoltage, false})
	m.takeBack("there was voltage on the rail")
	m.voice.sound("odd")
	m.ask()
	return true
}

// value of a reading; open leads that the pedal vouches for have none.
func (m *Machine) value(r capture.Reading) float64 {
	if !r.HasValue() {
		return 0
	}
	return r.Value
}

// tolerance is what a figure may still change, and how far readings of one
// touch may part. In ohms it is what the rule about shorts lets agree, 5 %: hand-held
// tips scatter by some ten milliohm. In volts it is a tenth of the band
// under power, without power 2 %: what an input above 10 gigaohm still holds of
// a lifted rail falls faster.
func (m *Machine) tolerance(r capture.Reading) float64 {
	least := float64(3 * r.Resolution)
	if m.step.Quantity == capture.Resistance {
		return max(0.05, float64(0.05*math.Abs(r.Value)), least)
	}
	if m.setup.Live {
		return max(m.rail().HalfBand()/5, least)
	}
	return max(0.005, float64(0.02*math.Abs(r.Value)), least)
}

// noise is the standard deviation that a reading is taken to have: contact
// scatter in ohms, digits in volts (common practice).
func (m *Machine) noise(r capture.Reading) float64 {
	if m.step.Quantity == capture.Resistance {
		return max(0.01, float64(0.001*math.Abs(r.Value)), r.Resolution)
	}
	return max(0.0005, float64(0.0001*math.Abs(r.Value)), r.Resolution)
}

func (m *Machine) rail() capture.Rail {
	for _, r := range m.setup.Rails {
		if r.Name == m.step.Rail {
			return r
		}
	}
	return capture.Rail{}
}

// like names another rail whose band holds a voltage that the band of the asked
// one does not.
func (m *Machine) like(r capture.Reading) string {
	if m.step.Quantity != capture.DCVoltage || !m.setup.Live || m.rail().Bounds.Contains(r.Value) {
		return ""
	}
	for _, other := range m.setup.Rails {
		if other.Name != m.step.Rail && !math.IsInf(other.Bounds.Width(), 1) && other.Bounds.Contains(r.Value) {
			return other.Name
		}
	}
	return ""
}
