package capture

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Record is one entry of a job's ordered log. At is strictly increasing within
// a bench, hence within a job.
type Record struct {
	At   Instant
	Job  string
	Item Item
}

// Item is what a record holds: [Reading], [Placement], [Act], [Sheet],
// [Roster], [RuleSet], [Gap] or [Tick].
type Item interface{ item() }

func (Reading) item()   {}
func (Placement) item() {}
func (Act) item()       {}
func (Sheet) item()     {}
func (Roster) item()    {}
func (RuleSet) item()   {}
func (Gap) item()       {}
func (Tick) item()      {}

// Tick marks a point of the tick grid. Ticks are handed out, never stored.
type Tick struct{}

// Sheet is what is known of the job: recorded when it is opened and again,
// whole, whenever something on it changes.
type Sheet struct {
	Job          string   `json:"job"` // "AB-0147"
	Set          string   `json:"set,omitempty"`
	Board        string   `json:"board,omitempty"`
	SerialNumber string   `json:"serial_number,omitempty"` // of the set
	Customer     string   `json:"customer,omitempty"`
	Symptom      string   `json:"symptom,omitempty"`
	Indication   string   `json:"indication,omitempty"` // what the set says of itself: not evidence
	Technician   string   `json:"technician,omitempty"`
	Bench        string   `json:"bench,omitempty"`
	Simulated    bool     `json:"simulated,omitempty"` // instruments and clock are simulated
	Rails        []Rail   `json:"rails"`
	NotChecked   []string `json:"not_checked,omitempty"` // said by the technician, beside the standing list
}

// Rail returns the rail of that name.
func (s Sheet) Rail(name string) (Rail, bool) {
	for _, r := range s.Rails {
		if r.Name == name {
			return r, true
		}
	}
	return Rail{}, false
}

// RailNames lists the names of the rails, in the order of the sheet.
func (s Sheet) RailNames() []string {
	var out []string
	for _, r := range s.Rails {
		out = append(out, r.Name)
	}
	return out
}

// FindRail returns the rail that a person means: by its name, case and the kind
// of minus aside, or by its number on the sheet, from 1. The error lists the
// rails with their numbers.
func (s Sheet) FindRail(typed string) (Rail, error) {
	want := strings.TrimSpace(typedForms.Replace(typed))
	if r, ok := s.Rail(want); ok {
		return r, nil
	}
	list := make([]string, len(s.Rails))
	for i, r := range s.Rails {
		number := strconv.Itoa(i + 1)
		if want == number || strings.EqualFold(want, r.Name) {
			return r, nil
		}
		list[i] = number + " is " + r.Name
	}
	if len(list) == 0 {
		return Rail{}, fmt.Errorf("there is no rail %s: the job has none", quoteShort(typed))
	}
	return Rail{}, fmt.Errorf("there is no rail %s: %s", quoteShort(typed), strings.Join(list, ", "))
}

// Roster lists the instruments that serve the job. It is recorded whole when
// one of them changes.
type Roster struct {
	Instruments []InstrumentInfo `json:"instruments"`
}

// Channel returns the description of a channel.
func (r Roster) Channel(id ChannelID) (ChannelInfo, bool) {
	for _, in := range r.Instruments {
		for _, c := range in.Channels {
			if c.ID == id {
				return c, true
			}
		}
	}
	return ChannelInfo{}, false
}

// Instrument returns the description of an instrument.
func (r Roster) Instrument(name string) (InstrumentInfo, bool) {
	for _, in := range r.Instruments {
		if in.Name == name {
			return in, true
		}
	}
	return InstrumentInfo{}, false
}

// RuleSet is the rules in force from this record on.
type RuleSet struct {
	Rules    []Rule    `json:"rules"`
	Formulas []Formula `json:"formulas,omitempty"`
	Engine   string    `json:"engine"` // version of the engine that judged
}

// Formula is plain arithmetic over channels: "supply/1/volts * supply/1/amps".
// The engine computes it from the record, so that it can be changed and an old
// job judged anew. A rule judges it by naming its channel in Of.
type Formula struct {
	Name string        `json:"name"`          // unique in the job
	Text string        `json:"text"`          // as written
	Unit string        `json:"unit"`          // ASCII; what the arithmetic must come to
	Age  time.Duration `json:"age,omitempty"` // an input older than this gives no value; 0: the default
}

// FormulaInstrument is the instrument part of the channel of a formula.
const FormulaInstrument = "formula"

// Channel is the identity under which a formula's figures are judged.
func (f Formula) Channel() ChannelID { return ChannelID(FormulaInstrument + "/" + f.Name) }

// Rule is a judgement about one rail. What a kind does not use is zero.
type Rule struct {
	Name     string        `json:"name"` // unique in the job: "band +5 V logic"
	Kind     string        `json:"kind"` // a kind of the rules table
	Rail     string        `json:"rail"`
	Severity Severity      `json:"severity"`
	OnDelay  time.Duration `json:"on_delay,omitempty"`  // the condition must last this long
	OffDelay time.Duration `json:"off_delay,omitempty"` // and must be gone this long
	Deadband float64       `json:"deadband,omitempty"`  // base unit, inwards of the limit
	Latch    bool          `json:"latch,omitempty"`     // stays until reset by hand
	Limit    float64       `json:"limit,omitempty"`     // base unit, meaning by kind; 0: from the rail
	Window   time.Duration `json:"window,omitempty"`    // meaning by kind; 0: the kind's default
	Count    int           `json:"count,omitempty"`     // meaning by kind
	Of       ChannelID     `json:"of,omitempty"`        // the one channel it judges; "": any on the rail that its kind hears
	Against  string        `json:"against,omitempty"`   // what it is held against, meaning by kind: a channel, a rail
	Bounds   Bounds        `json:"bounds,omitzero"`     // base unit; zero: from the rail
	Trip     string        `json:"trip,omitempty"`      // output that is switched off when the alarm comes: "supply/1"
	Implied  bool          `json:"implied,omitempty"`   // followed from the rail without being written
}

// Gap is a stretch in which the record is known to be incomplete: the daemon
// was not running, or readings had to be dropped. It also is a blind interval
// of every soak it falls into.
type Gap struct {
	From    Instant `json:"from"`
	To      Instant `json:"to"`
	Reason  string  `json:"reason"`            // "not running", "disk full", "computer slept"
	Dropped int     `json:"dropped,omitempty"` // readings known to be lost; 0: not known
	Ticked  bool    `json:"ticked,omitempty"`  // rules heard the ticks in it: the computer slept, the program ran
}

// Verb names what a person, or the daemon for a person, did.
type Verb string

// The acts.
const (
	ActOpen     Verb = "open"
	ActNote     Verb = "note"
	ActStage    Verb = "stage" // Stage is entered; Text is the reason when one is skipped or gone back to
	ActSoak     Verb = "soak"  // Text is "start" or "stop"; Value the planned length in seconds; Subject what came of it, when its plan ends it
	ActNull     Verb = "null"  // leads nulled; Value is the lead resistance in ohm
	ActHeard    Verb = "heard"
	ActReset    Verb = "reset latch"
	ActMute     Verb = "mute"   // Value is the length in seconds
	ActOutput   Verb = "output" // Text is "on", "off", [SwitchingOff] or [NotConfirmed]
	ActLimits   Verb = "limits" // set-points of a supply or a load
	ActInput    Verb = "input"  // of an electronic load; Text is "on" or "off"
	ActTurn     Verb = "turn"   // trimmer turned; Value in turns, up positive
	ActLift     Verb = "lift"   // a part or connector was lifted; Subject names it
	ActPutBack  Verb = "put back"
	ActFinding  Verb = "finding" // a conclusion with its evidence in Text; Subject is what it concerns
	ActClose    Verb = "close"
	ActLinkLost Verb = "link lost"
	ActLinkBack Verb = "link back" // Value is how long nothing was read, in seconds
	ActTap      Verb = "tap"       // Subject is a meter; Text is [TapWanted], or the rail that it was seen to touch
)

// ActTake is the act of a meter that was asked for another of its functions for
// a moment. Subject is the channel, Text the rail, Value how many readings.
const ActTake Verb = "take"

// ActAmbient says what a thermometer in the room shows; Value is in °C. A channel
// placed at [PointAmbient] says it by itself.
const ActAmbient Verb = "ambient"

// TapWanted is the text of a tap act that says: nobody knows which meter
// answers since it was connected. Its readings count again when a rail was
// touched with it and its reading followed.
const TapWanted = "wanted"

// Act is something done, said or concluded.
type Act struct {
	Verb    Verb    `json:"verb"`
	Subject string  `json:"subject,omitempty"` // rail, channel, instrument, alarm or part
	Stage   Stage   `json:"stage,omitempty"`
	Text    string  `json:"text,omitempty"`
	Value   float64 `json:"value,omitempty"`
	By      string  `json:"by,omitempty"`
}

// Stage is a part of the job.
type Stage string

// The stages, in the usual order.
const (
	TakeIn     Stage = "take-in"
	ColdChecks Stage = "cold checks"
	Isolate    Stage = "isolate"
	LiveChecks Stage = "live checks"
	StandIn    Stage = "stand-in"
	Preset     Stage = "preset"
	Trim       Stage = "trim"
	WarmUp     Stage = "warm-up"
	Soak       Stage = "soak"
	SignOff    Stage = "sign-off"
)

// Stages lists all stages in the usual order.
func Stages() []Stage {
	return []Stage{TakeIn, ColdChecks, Isolate, LiveChecks, StandIn, Preset, Trim, WarmUp, Soak, SignOff}
}

// Live reports whether the set is under power in this stage, so that rules
// about voltage make sense.
func (s Stage) Live() bool {
	switch s {
	case LiveChecks, Trim, WarmUp, Soak, SignOff:
		return true
	}
	return false
}

// Cold reports whether the set is meant to be without power in this stage.
func (s Stage) Cold() bool { return s == TakeIn || s == ColdChecks || s == Isolate }

// Known reports whether s is one of [Stages].
func (s Stage) Known() bool {
	for _, k := range Stages() {
		if k == s {
			return true
		}
	}
	return false
}

// Sink takes records in order. Consume must not block and must not call back
// into whoever calls it.
type Sink interface {
	Consume(Record)
}
