// Package kind holds the kinds of judgement: one file and one line of [Table]
// for each. A [Judge] judges one rule on one rail.
//
// It promises constant work for each reading, no clock, no goroutine and the
// same answer for the same input on every architecture: products that a
// compiler could fuse are rounded by an explicit float64, and nothing iterates
// over a map. Negative rails are judged by magnitude ([capture.Rail.Sized]).
//
// Only the engine in package rules calls it. A judge is fed in the order of
// the record and is not safe for concurrent use.
package kind

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// Condition tells whether what a rule looks for is there.
type Condition uint8

// The conditions. The zero value means that nothing can be said: an alarm
// then stays what it was.
const (
	Unknown Condition = iota
	Absent
	Present
)

// Case is what a judge is about.
type Case struct {
	Rule  capture.Rule
	Rail  capture.Rail
	Guard *capture.Protections // of the job's supplies, as the records so far have it; read only, nil: of none
}

// Seat is the channel that a judge listens to and how it stands on the rail.
// With an empty channel nothing stands on the rail.
type Seat struct {
	Channel   capture.ChannelInfo
	Placement capture.Placement
	Since     capture.Instant // it stands so since
	AutoOff   time.Duration   // of its instrument; 0: none is stated
	Due       string          // when its calibration is due, 2027-03-01; empty: not stated
}

// Arming tells whether a rule may raise an alarm now.
type Arming struct {
	Armed bool
	Cold  bool   // the set is meant to be without power
	Why   string // why not armed: "the probe is only touched"
}

// Finding is what a judge has to say when its condition comes or goes.
type Finding struct {
	Say, Advice string
	Value       float64 // base unit: the reading that decided
	Limit       float64 // base unit: what it was held against
	Unit        string
	Evidence    []capture.Instant
	Quiet       string // why nobody needs to be told of it; empty: they do
}

// Hearer takes what happens, in the order of the record.
type Hearer interface {
	// Sit names the channel that judges from now on; what another contact
	// said is forgotten.
	Sit(at capture.Instant, seat Seat)
	// Arm tells that the rule is armed, or is not and why.
	Arm(at capture.Instant, a Arming)
	// Read takes a reading of the seat's channel, with or without a value.
	Read(at capture.Instant, r *capture.Reading)
	// Beside takes another channel's reading on the same rail. It comes with
	// the tick after it was answered.
	Beside(at capture.Instant, r *capture.Reading)
	// Act takes an act of the job.
	Act(at capture.Instant, act *capture.Act)
	// Room tells the temperature about the meters.
	Room(r Room)
	// Tick takes a point of the tick grid.
	Tick(at capture.Instant)
	// Blind says that readings may be missing before this instant.
	Blind(at capture.Instant)
}

// Sayer says what was heard so far amounts to.
type Sayer interface {
	// Condition is cheap: it is asked after every reading and tick.
	Condition() Condition
	// Outcome is cheap and equals Verdict().Outcome.
	Outcome() capture.Outcome
	// Verdict is for the screen, on any placement.
	Verdict() capture.Verdict
	// Finding is asked for when the condition has come.
	Finding() Finding
	// Story is cheap and names what Finding would tell beside its figures: "who
	// answers". An alarm that is there is told anew, as Finding has it then, when
	// its story is neither empty nor the one told last. A kind whose causes are
	// told apart by nothing that a person must hear leaves it empty.
	Story() string
	// Recovery is asked for when the condition has gone.
	Recovery() Finding
}

// Judge judges one rule on one rail.
type Judge interface {
	Hearer
	Sayer
}

// Listen tells which channels on the rail a kind listens to.
type Listen struct {
	Quantity capture.Quantity // NoQuantity: any
	ReadBack bool             // a supply's own read-back, and nothing else
}

// Hears reports whether the channel is one to listen to.
func (l Listen) Hears(ch capture.ChannelInfo) bool {
	return (l.Quantity == capture.NoQuantity || l.Quantity == ch.Quantity) && l.ReadBack == ch.Setpoint
}

// Need says when a kind may raise an alarm.
type Need uint8

// The needs.
const (
	Live   Need = iota // clipped, in a stage under power, and no output switched off
	Dead               // touched or clipped, in cold checks or isolation
	Always             // as long as the job is open: it judges acts
)

// Kind is a line of the table.
type Kind struct {
	Name    string
	Listen  Listen
	Need    Need
	Falls   int                                     // 1 and up: says that a rail went down; a lower one explains higher ones
	Implied func(capture.Rail) (capture.Rule, bool) // the rule that follows from a rail; nil: none does
	OnlyIf  func(capture.Roster) bool               // that it follows only on such a bench; nil: on any
	New     func(Case) Judge
}

// Table lists every kind: one line for each.
func Table() []Kind {
	volts := Listen{Quantity: capture.DCVoltage}
	return []Kind{
		{Name: "collapse", Listen: volts, Need: Live, Falls: 1, Implied: impliedCollapse, New: newCollapse},
		{Name: "missing", Listen: volts, Need: Live, Falls: 2, Implied: impliedMissing, New: newMissing},
		{Name: "band", Listen: volts, Need: Live, Falls: 3, Implied: impliedBand, New: newBand},
		{Name: "silent", Listen: volts, Need: Live, Implied: impliedSilent, New: newSilent},
		{Name: "auto-off", Listen: volts, Need: Live, Implied: impliedAutoOff, OnlyIf: anySleeper, New: newAutoOff},
		{Name: "short", Listen: Listen{Quantity: capture.Resistance}, Need: Dead, Implied: impliedShort, New: newShort},
		{Name: "limiting", Listen: Listen{ReadBack: true}, Need: Live, New: newLimiting},
		{Name: "trip", Need: Always, New: newTrip},
	}
}

// Find returns the line of a kind.
func Find(name string) (Kind, bool) {
	for _, k := range Table() {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

// Check reports the first thing that is wrong with a rule as written.
func Check(r capture.Rule) error {
	switch _, known := Find(r.Kind); {
	case r.Name == "":
		return fmt.Errorf("a rule needs a name")
	case !known:
		return fmt.Errorf("rule %s: unknown kind %q: use collapse, missing, band, silent, auto-off, short, limiting or trip", r.Name, r.Kind)
	case r.Rail == "":
		return fmt.Errorf("rule %s: say which rail it judges", r.Name)
	case r.OnDelay < 0 || r.OffDelay < 0 || r.Window < 0:
		return fmt.Errorf("rule %s: a delay or window cannot be negative", r.Name)
	case !(r.Deadband >= 0) || math.IsInf(r.Deadband, 0) || r.Count < 0:
		return fmt.Errorf("rule %s: deadband and count must be zero or more", r.Name)
	case r.Kind == "trip" && (r.Against == "" || r.Trip != ""):
		return fmt.Errorf("rule %s: a rule of kind trip watches an output and is not written: write trip: beside the rule that is to switch off", r.Name)
	case math.IsNaN(r.Limit) || math.IsInf(r.Limit, 0):
		return fmt.Errorf("rule %s: the limit must be a number", r.Name)
	}
	return nil
}

// bandDeadband is the deadband that follows from a rail: a tenth of its band.
// There is no published value for voltages (EEMUA 191 gives them for flow,
// level, pressure and temperature only): this is the project's own choice.
func bandDeadband(r capture.Rail) float64 { return r.HalfBand() / 5 }

func impliedRule(kind string, r capture.Rail, s capture.Severity) capture.Rule {
	return capture.Rule{Name: kind + " " + r.Name, Kind: kind, Rail: r.Name, Severity: s, Implied: true}
}

func orDefault(d, fallback time.Duration) time.Duration {
	if d > 0 {
		return d
	}
	return fallback
}
