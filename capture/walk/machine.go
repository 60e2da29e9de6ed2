package walk

import (
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// Setup says what is walked, with what.
type Setup struct {
	Job   string
	Rails []capture.Rail
	Volts capture.ChannelID
	Ohms  capture.ChannelID // "" under power
	Live  bool              // the set is under power: volts only
	Both  bool              // ohms both ways round
	// Lead is what the leads have, in ohm: it is taken off. 0: they were not nulled,
	// or too long ago.
	Lead float64
	// TopVolts and TopOhms are ranges that the meter can hold, in base units: one
	// for every rail, and its largest. 0: it ranges by itself, and is slower.
	TopVolts, TopOhms float64
	// ApertureVolts and ApertureOhms are how long a reading looks; 0: not known.
	ApertureVolts, ApertureOhms time.Duration
}

const (
	// LiftFor is how long leads must be open to count as lifted.
	LiftFor = 300 * time.Millisecond
	// TouchAbove is the voltage from which a touch is seen, and OpenBelow that
	// below which leads count as open, in volt: between the two neither.
	TouchAbove = DeadBelow
	OpenBelow  = 0.030
	// GotFor is how long "got it" stands before the next word.
	GotFor = 700 * time.Millisecond
	// DoneFor is how long the last figure may still be taken back.
	DoneFor = 10 * time.Second
	// UrgeAfter is when a touch without a lift is answered with a tone.
	UrgeAfter = 1500 * time.Millisecond
	// SayAfter is when it is said that a touch does not stand yet; from then on the
	// pedal files what is read. Creeps is when it is said although nobody knows
	// how long it will take.
	SayAfter = 2 * time.Second
	Creeps   = 6 * time.Second
	// QuietFor without a reading means that nobody sees anything. Auto-ranging
	// from open to a short takes two seconds (common practice).
	QuietFor = 4 * time.Second
)

// How many readings are filed, and what they cover at least: in ohms what the
// rule about shorts asks for, in volts what a slip of the hand does not last.
const (
	fileVolts = 2
	fileOhms  = 3
	spanVolts = 400 * time.Millisecond
	spanOhms  = 600 * time.Millisecond
)

// DoKind names what is to be done.
type DoKind uint8

// What is to be done.
const (
	Select   DoKind = iota + 1 // have the meter measure Step.Quantity
	Range                      // have it hold the range for Value; 0: range by itself
	Place                      // put the channel on Step's rail
	Off                        // take it off: the figure is filed
	Withdraw                   // correct the placement made at At to nothing, and take the channel off
	Skip                       // record that Step was skipped, with Why
	End                        // the walk is over
)

// Do is something to be done by the application, in order.
type Do struct {
	Kind  DoKind
	Step  Step
	At    capture.Instant // Withdraw: the placement that is taken back
	Value float64         // Range, base unit
	Why   string
}

// state is where a walk stands.
type state uint8

const (
	lifting  state = iota // the leads must be seen open
	touching              // waiting for the touch
	holding               // in contact, until it stands
	filing                // placed; figures are being filed
	assuring              // filed, taken off; one more reading must agree
	done                  // nothing more is asked; the last figure may be taken back
	over
)

// Machine is one walk. Use [New].
type Machine struct {
	order
	state state
	step  Step
	do    []Do

	now       capture.Instant
	asked     capture.Instant // of the step
	openSince capture.Instant // 0: not open
	heard     capture.Instant // newest reading that told something
	seen      capture.Instant // when that looked, see looked
	refused   bool            // the meter says that it is set to something else
	held      bool            // its display stands still
	gone      bool            // it is not there
	clear     bool            // the newest reading was open leads
	settling  settling
	touchedAt capture.Instant // since then it is in contact, in whatever range
	charge    charging        // filed as a lower bound, along this law; none: a steady figure
	waitFor   Step            // the pedal asked for its steady figure
	said      bool            // the touch was said by the pedal
	forced    bool            // it is filed although it creeps
	sure      bool            // it is this rail although it reads like another
	stands    bool            // the touch has become steady
	told      bool            // a tone was given about it
	mean      float64         // what stood when it was placed
	meanAt    capture.Instant
	place     capture.Instant   // of our placement; 0: not placed
	placing   bool              // asked for and not made yet
	own       []capture.Instant // placements of ours whose records are still to come by
	filed     settling          // what was filed under it
	unsure    bool              // the rules say nothing of it yet, see Unsure
	filedLast capture.Reading   // the figure, until it is assured
	filedAt   capture.Instant   // of its record
	last      Step              // filed last
	lastAt    capture.Instant
	hasLast   bool
	reading   capture.Reading // newest of the step's channel
	note      string
	voice     Voice
	ranged    float64 // that is held; 0: it ranges by itself
	urged     bool    // it was said that a lift is waited for
}

// New begins a walk at an instant and returns what is to be done first.
func New(s Setup, at capture.Instant) (*Machine, []Do) {
	m := &Machine{order: newOrder(s), now: at, heard: at}
	m.ask()
	return m, m.take()
}

func (m *Machine) take() []Do {
	do := m.do
	m.do = nil
	return do
}

func (m *Machine) channel() capture.ChannelID {
	if m.step.Quantity == capture.Resistance {
		return m.setup.Ohms
	}
	return m.setup.Volts
}

// Consume takes the next record of the bench, of whatever job.
func (m *Machine) Consume(rec capture.Record) []Do {
	if m.state == over || rec.At < m.now {
		return nil
	}
	m.now = rec.At
	switch it := rec.Item.(type) {
	case capture.Reading:
		m.read(rec, it)
	case capture.Placement:
		m.placed(rec, it)
	case capture.Act:
		m.act(it)
		m.renulled(rec.Job, it)
	case capture.Gap:
		m.lose("the record has a hole: lift and touch again")
	case capture.Tick:
		m.tick()
	}
	return m.take()
}

// Placed tells that a [Place] was carried out, and the instant of its record.
// It is called before anything else is fed.
func (m *Machine) Placed(at capture.Instant) {
	m.place, m.placing = at, false
	m.own = append(m.own, at)
}

// placed sees our own placements come by, and ends the walk at somebody else's.
func (m *Machine) placed(rec capture.Record, p capture.Placement) {
	mine := p.Channel == m.setup.Volts || p.Channel == m.setup.Ohms
	if !mine || p.Corrects != 0 || p.Rail == "" && p.Point == "" {
		return
	}
	if i := slices.Index(m.own, rec.At); i >= 0 {
		m.own = slices.Delete(m.own, i, i+1)
		return
	}
	m.place, m.placing = 0, false // it stands there now, not with us
	m.stop("the meter was put on " + strings.TrimSpace(p.Rail+" "+p.Point) + " by somebody else")
}

// Stop ends the walk before it is done.
func (m *Machine) Stop(at capture.Instant, why string) []Do {
	if m.state != over {
		m.now = max(m.now, at)
		m.takeBack("the walk was ended")
		m.stop(why)
	}
	return m.take()
}

func (m *Machine) stop(why string) {
	m.state, m.note = over, why
	m.do = append(m.do, Do{Kind: End, Why: why})
}

// act forgets every proof when a supply was switched on or set.
func (m *Machine) act(a capture.Act) {
	if a.Verb == capture.ActLimits || (a.Verb == capture.ActOutput || a.Verb == capture.ActInput) && a.Text != "off" {
		m.supply = m.now
		m.stale()
	}
}

func (m *Machine) tick() {
	switch {
	case m.state == done:
		if m.now.Sub(m.asked) >= DoneFor {
			m.stop("")
		}
	case m.now.Sub(m.heard) > QuietFor && !m.gone:
		m.lose("no reading: is the meter on, and plugged in?")
	case m.state == lifting || m.state == touching:
		m.stale()
	}
}
