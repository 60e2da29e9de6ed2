package scpi

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"steadyrail/capture"
)

// Plan is what a model file says about an instrument that speaks SCPI. It is a
// plain value and not changed by the driver.
type Plan struct {
	SetUp    []string // sent once after each connection
	Channels []Channel
	Limiting *Limiting // nil: the instrument does not tell
	Output   *Output   // nil: there is none
	Limits   []Limit
}

// Channel is one measured quantity.
type Channel struct {
	Name     string // after the slash of the channel's ID
	Quantity capture.Quantity
	Group    string        // channels of one group share the input; empty: its own
	Select   []string      // sent once when the channel is selected
	Read     string        // the query of one reading
	Every    time.Duration // usual poll interval
	Aperture time.Duration // 0: not known
	Lag      time.Duration // end of the aperture to the first character
	ReadBack bool          // a supply's own read-back
	Limiting bool          // ask the limiting condition with each reading
	Ranges   []capture.Accuracy
}

// Limiting asks whether a supply regulates current instead of voltage.
type Limiting struct {
	Ask  string // a condition register, answered as NR1
	Mask int    // limiting when any of these bits is set
}

// Output are the phrases of a supply's output.
type Output struct{ On, Off, Ask string }

// Limit is a set-point: the number takes the place of {} in Set.
type Limit struct {
	Name string // volts, amperes, over-voltage, over-current
	Unit capture.Unit
	Set  string
	Ask  string
	Step float64 // base unit; the answer may be this far from what was sent
	Max  float64 // base unit; more is refused unsent
}

// forbidden are phrases that reset an instrument, change or call up stored
// settings, or start a self-test or an adjustment, in short and long form and
// anywhere in a chain of commands.
var forbidden = regexp.MustCompile(`(?i)(^|[;:\s])(\*(RST|RCL|SAV|TST)|SYST(EM)?:(PRES(ET)?|POS(ETUP)?)|MEM(ORY)?|CAL(IBRATION)?)([^A-Z]|$)`)

// switching are phrases that change an output or a set-point of a supply.
var switching = regexp.MustCompile(`(?i)(^|;)\s*:?((OUTP(UT)?|SOUR(CE)?|APPL(Y)?)([^A-Z]|$)` +
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

// Check goes through every phrase of the plan. Errors wrap [ErrNotAllowed].
func (p Plan) Check() error {
	var all []error
	quiet := func(list ...string) {
		for _, s := range list {
			all = append(all, CheckQuiet(s))
		}
	}
	queries := func(list ...string) {
		for _, s := range list {
			all = append(all, CheckQuery(s))
		}
	}
	quiet(p.SetUp...)
	for _, c := range p.Channels {
		quiet(c.Select...)
		queries(c.Read)
	}
	if p.Limiting != nil {
		queries(p.Limiting.Ask)
	}
	if p.Output != nil {
		all = append(all, CheckPhrase(p.Output.On), CheckPhrase(p.Output.Off))
		queries(p.Output.Ask)
	}
	for _, l := range p.Limits {
		all = append(all, CheckPhrase(l.Set))
		queries(l.Ask)
	}
	return errors.Join(all...)
}

// Phrases lists everything that the plan can send, for checks.
func (p Plan) Phrases() []string {
	list := append([]string(nil), p.SetUp...)
	for _, c := range p.Channels {
		list = append(append(list, c.Select...), c.Read)
	}
	if p.Limiting != nil {
		list = append(list, p.Limiting.Ask)
	}
	if p.Output != nil {
		list = append(list, p.Output.On, p.Output.Off, p.Output.Ask)
	}
	for _, l := range p.Limits {
		list = append(list, l.Set, l.Ask)
	}
	return list
}
