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
	"reflect"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
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
	Other capture.Rail         // the rail that the rule names in Against; zero: it names none
}

// Seat is the channel that a judge listens to and how it stands on the rail.
// With an empty channel nothing stands on the rail.
type Seat struct {
	Channel   capture.ChannelInfo
	Placement capture.Placement
	Since     capture.Instant     // it stands so since
	Beside    capture.ChannelInfo // that the rule is held against; without an identity: none
	AutoOff   time.Duration       // of its instrument; 0: none is stated
	Due       string              // when its calibration, or that of beside, is due first, 2027-03-01; empty: not stated
}

// Differs reports whether another seat is of other instruments, or of the same
// with another description. How the channel stands is no part of that.
func (s Seat) Differs(o Seat) bool {
	return s.AutoOff != o.AutoOff || s.Due != o.Due || !reflect.DeepEqual(s.Channel, o.Channel) || !reflect.DeepEqual(s.Beside, o.Beside)
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
	// Given tells how far the reading that comes next may be off, of a formula's
	// channel: no maker states it.
	Given(uncertainty.Given)
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

// Need says when a kind may raise an alarm.
type Need uint8

// The needs.
const (
	Live   Need = iota // clipped, in a stage under power, and no output switched off
	Dead               // touched or clipped, in cold checks or isolation
	Always             // as long as the job is open: it judges acts
)

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
