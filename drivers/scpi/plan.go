package scpi

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// Plan is what a model file says about an instrument that speaks SCPI. It is a
// plain value and not changed by the driver.
type Plan struct {
	Identity Identity // zero: by *IDN?
	Quirks   []string // see [Quirks]
	SetUp    []string // sent once after each connection
	Channels []Channel
	Outputs  []Output // of a supply, or the input of a load; one without name when there is only one
}

// Channel is one measured quantity.
type Channel struct {
	Name      string // after the slash of the channel's ID
	Quantity  capture.Quantity
	Group     string        // channels of one group share the input; empty: its own
	Output    string        // which of several outputs it is measured at
	Select    []string      // sent once when the channel is selected
	Read      string        // the query of one reading
	FixRange  string        // {} is the range; empty: it cannot be fixed
	AutoRange string        // lets the meter choose again
	Every     time.Duration // usual poll interval
	Aperture  time.Duration // 0: not known
	Lag       time.Duration // end of the aperture to the first character
	Settle    time.Duration // after selecting, answers do not count yet
	InputOhms float64       // what the input is set to; 0: not stated
	ReadBack  bool          // a supply's own read-back
	Limiting  bool          // ask the limiting condition with each reading
	Ranges    []capture.Accuracy
}

// Limiting asks whether a supply regulates current instead of voltage.
type Limiting struct {
	Ask  string // a condition register, answered as NR1
	Mask int    // limiting when any of these bits is set
}

// Output is what is switched and limited: the output of a supply, or the input
// of a load.
type Output struct {
	Name     string       // of one of several; empty: the only one
	Verb     capture.Verb // ActOutput, or ActInput of a load
	Choose   string       // sent before everything that concerns this one; empty: the phrases say it themselves
	Chosen   Chosen       // asked after Choose, each time
	Ready    []string     // sent before it is switched on
	On, Off  string       // empty: it cannot be switched
	Ask      string
	Limits   []Limit
	Limiting *Limiting // nil: the instrument does not tell
}

// Chosen is how an instrument confirms which output its phrases mean.
type Chosen struct{ Ask, Answer string }

// Limit is a set-point: the number takes the place of {} in Set.
type Limit struct {
	Name string // volts, amperes, over-voltage, over-current
	Unit capture.Unit
	Set  string
	Ask  string
	Step float64 // base unit; the answer may be this far from what was sent
	Max  float64 // base unit; more is refused unsent
	// State switches a protection on and asks whether it is; nil: there is no such
	// phrase. Always: it has none, and acts whenever the output is on.
	State  *State
	Always bool
	// Tripped asks whether the protection has switched the output off; empty: it
	// cannot be asked.
	Tripped string
}

// State is the switch of a protection: CURRent:PROTection:STATe and its like.
type State struct{ On, Ask string }

// OutputNamed returns an output, nil when there is none of that name.
func (p *Plan) OutputNamed(name string) *Output {
	for i := range p.Outputs {
		if p.Outputs[i].Name == name {
			return &p.Outputs[i]
		}
	}
	return nil
}

// OutputNames lists the outputs of an instrument that has several.
func (p *Plan) OutputNames() []string {
	var out []string
	for _, o := range p.Outputs {
		if o.Name != "" {
			out = append(out, o.Name)
		}
	}
	return out
}

// Acts lists what can be done: output, input, limits.
func (p *Plan) Acts() []string {
	var out []string
	add := func(v capture.Verb) {
		if !slices.Contains(out, string(v)) {
			out = append(out, string(v))
		}
	}
	for _, o := range p.Outputs {
		if o.On != "" {
			add(o.Verb)
		}
	}
	for _, o := range p.Outputs {
		if len(o.Limits) > 0 {
			add(capture.ActLimits)
		}
	}
	return out
}

// forbidden are phrases that reset an instrument, change or call up stored
// settings, or start a self-test or an adjustment, in short and long form and
// anywhere in a chain of commands.
var forbidden = regexp.MustCompile(`(?i)(^|[;:\s])(\*(RST|RCL|SAV|TST)|SYST(EM)?:(PRES(ET)?|POS(ETUP)?)|MEM(ORY)?|CAL(IBRATION)?)([^A-Z]|$)`)

// switching are phrases that change an output or a set-point of a supply, or
// the input of a load; INP:IMP of a meter is none.
var switching = regexp.MustCompile(`(?i)(^|;)\s*:?((OUTP(UT)?|SOUR(CE)?|APPL(Y)?)([^A-Z]|$)|(INP(UT)?|LOAD)(:STAT(E)?)?\s` +
	`|(VOLT(AGE)?|CURR(ENT)?)(:LEV(EL)?)?(:IMM(EDIATE)?)?(:AMPL(ITUDE)?)?\s)`)

// CheckPhrase returns an error that wraps [ErrNotAllowed] for what must never be
// sent to an instrument.
func CheckPhrase(phrase string) error {
	if bad := forbidden.FindString(phrase); bad != "" {
		return fmt.Errorf("%w: %q would reset the instrument or touch its stored settings (%s)", ErrNotAllowed, phrase, strings.Trim(bad, " ;:"))
	}
	return nil
}

// CheckQuiet is CheckPhrase for what is sent without being asked for, on
// connecting and selecting: it may not switch an output either, and it is not
// answered.
func CheckQuiet(phrase string) error {
	if err := CheckPhrase(phrase); err != nil {
		return err
	}
	if switching.MatchString(phrase) {
		return fmt.Errorf("%w: %q would change an output without anyone's asking", ErrNotAllowed, phrase)
	}
	if strings.Contains(phrase, "?") {
		return fmt.Errorf("%w: %q asks for an answer that nobody reads here", ErrNotAllowed, phrase)
	}
	return nil
}

// CheckQuery is CheckPhrase for what must be answered, once.
func CheckQuery(phrase string) error {
	if err := CheckPhrase(phrase); err != nil {
		return err
	}
	if strings.Count(phrase, "?") != 1 {
		return fmt.Errorf("%w: %q: want one query, with one question mark", ErrNotAllowed, phrase)
	}
	return nil
}

// CheckAsk is CheckPhrase for an identity query of an instrument's own, which
// may lack the question mark.
func CheckAsk(phrase string) error {
	if err := CheckPhrase(phrase); err != nil {
		return err
	}
	if switching.MatchString(phrase) {
		return fmt.Errorf("%w: %q would change an output without anyone's asking", ErrNotAllowed, phrase)
	}
	return nil
}

// Check goes through every phrase of the plan. Errors wrap [ErrNotAllowed].
func (p Plan) Check() error {
	var all []error
	p.each(func(kind phraseKind, phrase string) {
		if phrase != "" {
			all = append(all, checks[kind](phrase))
		}
	})
	return errors.Join(all...)
}

// phraseKind is what a phrase is for, and so what it may do.
type phraseKind int

const (
	isQuiet phraseKind = iota // sent without anyone's asking
	isQuery
	isAsk // an identity query of the instrument's own
	isAct // sent for a person
)

var checks = map[phraseKind]func(string) error{isQuiet: CheckQuiet, isQuery: CheckQuery, isAsk: CheckAsk, isAct: CheckPhrase}

// each goes through everything that the plan can send; what it does not have
// is empty.
func (p Plan) each(take func(kind phraseKind, phrase string)) {
	some := func(kind phraseKind, list ...string) {
		for _, s := range list {
			take(kind, s)
		}
	}
	some(isAsk, p.Identity.Ask)
	some(isQuiet, p.SetUp...)
	for _, c := range p.Channels {
		some(isQuiet, c.Select...)
		some(isQuiet, c.FixRange, c.AutoRange)
		some(isQuery, c.Read)
	}
	for _, o := range p.Outputs {
		some(isQuiet, o.Choose)
		some(isQuiet, o.Ready...)
		some(isAct, o.On, o.Off)
		some(isQuery, o.Chosen.Ask, o.Ask)
		if o.Limiting != nil {
			some(isQuery, o.Limiting.Ask)
		}
		for _, l := range o.Limits {
			some(isAct, l.Set)
			some(isQuery, l.Ask, l.Tripped)
			if l.State != nil {
				some(isAct, l.State.On)
				some(isQuery, l.State.Ask)
			}
		}
	}
}

// Phrases lists everything that the plan can send, for checks.
func (p Plan) Phrases() []string {
	var list []string
	p.each(func(_ phraseKind, phrase string) {
		if phrase != "" {
			list = append(list, phrase)
		}
	})
	return list
}
