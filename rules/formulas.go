package rules

import (
	"errors"
	"fmt"
	"reflect"
	"slices"

	"steadyrail/capture"
	"steadyrail/rules/formula"
	"steadyrail/rules/kind"
	"steadyrail/rules/uncertainty"
)

// derived is a formula in force.
type derived struct {
	formula capture.Formula
	expr    *formula.Expr
	inputs  []*input
	channel channel // what its rules sit on; it stands on no rail
	newest  capture.Derived
	seen    bool              // newest was handed out
	given   uncertainty.Given // of newest
}

// input is the newest reading of a channel that a formula reads.
type input struct {
	id      capture.ChannelID
	reading capture.Reading
	at      capture.Instant // 0: none
	fresh   bool            // not computed with yet
}

// Figures returns what every formula came to, as it is now.
func (e *Engine) Figures() []capture.Derived {
	out := make([]capture.Derived, len(e.formulas))
	for i, d := range e.formulas {
		out[i] = d.newest
	}
	return out
}

// CheckFormulas reports everything that is wrong with formulas over the
// channels that of knows. Mistakes in a text wrap [*formula.Error].
func CheckFormulas(list []capture.Formula, of formula.Quantities) []error {
	var out []error
	seen := map[string]bool{}
	for _, f := range list {
		if _, err := checked(f, of); err != nil {
			out = append(out, err)
		}
		if seen[f.Name] {
			out = append(out, fmt.Errorf("formula %s: two formulas have this name", f.Name))
		}
		seen[f.Name] = true
	}
	return out
}

// ErrFormula is wrapped by what is wrong with a formula beside its text.
var ErrFormula = errors.New("not a formula")

func checked(f capture.Formula, of formula.Quantities) (*formula.Expr, error) {
	_, _, known := formula.ParseUnit(f.Unit)
	switch {
	case f.Name == "":
		return nil, fmt.Errorf("%w: it needs a name", ErrFormula)
	case !known:
		return nil, fmt.Errorf("%w: formula %s: %q is no unit that one may come to: use one of %v, 1 for a plain number", ErrFormula, f.Name, f.Unit, formula.Units())
	case f.Age < 0:
		return nil, fmt.Errorf("%w: formula %s: an age cannot be negative", ErrFormula, f.Name)
	}
	expr, err := formula.Parse(f.Text)
	if err == nil {
		err = expr.CheckUnit(of, f.Unit)
	}
	if err == nil && len(expr.Channels()) == 0 {
		err = &formula.Error{Text: f.Text, Column: 1, Say: "it names no channel, so it never changes: write a limit instead"}
	}
	if err != nil {
		return nil, fmt.Errorf("formula %s: %w", f.Name, err)
	}
	return expr, nil
}

// RosterQuantities looks channels up in a roster.
func RosterQuantities(r capture.Roster) formula.Quantities {
	return func(id capture.ChannelID) (capture.Quantity, bool) {
		info, known := r.Channel(id)
		return info.Quantity, known
	}
}

// formulate puts the formulas of the rule set in force over the roster. One
// that is unchanged, over unchanged channels, keeps what it has heard.
func (e *Engine) formulate() {
	old := e.formulas
	e.formulas, e.unformed = nil, CheckFormulas(e.set.Formulas, RosterQuantities(e.roster))
	for _, f := range e.set.Formulas {
		expr, err := checked(f, RosterQuantities(e.roster))
		if err != nil || e.formulaOf(f.Channel()) != nil {
			continue
		}
		d := e.derivedOf(f, expr)
		for _, was := range old {
			if was.formula == f && reflect.DeepEqual(was.channel.info, d.channel.info) {
				d = was
			}
		}
		e.formulas = append(e.formulas, d)
	}
}

// derivedOf describes a formula's channel: as slow and as wide as the slowest
// and the widest of its inputs.
func (e *Engine) derivedOf(f capture.Formula, expr *formula.Expr) *derived {
	_, q, _ := formula.ParseUnit(f.Unit)
	d := &derived{formula: f, expr: expr, newest: capture.Derived{Formula: f}}
	d.channel.info = capture.ChannelInfo{ID: f.Channel(), Quantity: q}
	for _, id := range expr.Channels() {
		d.inputs = append(d.inputs, &input{id: id})
		info, _ := e.roster.Channel(id)
		d.channel.info.Every = max(d.channel.info.Every, info.Every)
		d.channel.info.Aperture = max(d.channel.info.Aperture, info.Aperture)
	}
	return d
}

func (e *Engine) formulaOf(id capture.ChannelID) *derived {
	for _, d := range e.formulas {
		if d.channel.info.ID == id {
			return d
		}
	}
	return nil
}

// channelOf returns the channel of an identity: a formula's, or an ordinary one,
// made when it is first named.
func (e *Engine) channelOf(id capture.ChannelID) *channel {
	if d := e.formulaOf(id); d != nil {
		return &d.channel
	}
	return e.channel(id)
}

// clipped reports whether a channel stays where it is: of a formula, all its
// inputs do. What an instrument says of itself hangs on no probe.
func (e *Engine) clipped(ch *channel) bool {
	d := e.formulaOf(ch.info.ID)
	if d == nil {
		return ch.place.Hold == capture.Clipped || ch.fixed()
	}
	return !slices.ContainsFunc(d.inputs, func(in *input) bool {
		c := e.channels[in.id]
		return c == nil || c.place.Hold != capture.Clipped && !c.info.Setpoint && !c.wired()
	})
}

// hangsOn reports whether what a channel says comes from an instrument.
func (e *Engine) hangsOn(ch *channel, instrument string) bool {
	d := e.formulaOf(ch.info.ID)
	if d == nil {
		return ch.info.ID.Instrument() == instrument
	}
	return slices.ContainsFunc(d.inputs, func(in *input) bool { return in.id.Instrument() == instrument })
}

// renewed reports whether a channel, or an input of its formula, begins a new
// contact.
func (e *Engine) renewed(ch, anew *channel) bool {
	d := e.formulaOf(ch.info.ID)
	if d == nil || anew == nil {
		return ch == anew
	}
	return slices.ContainsFunc(d.inputs, func(in *input) bool { return in.id == anew.info.ID })
}

// FormulaUnits lists the units that a formula may come to; 1 is a plain number.
func FormulaUnits() []string { return formula.Units() }

// checkOf reports a rule that names a formula which is not there, or comes to
// what its kind cannot judge.
func checkOf(r capture.Rule, set capture.RuleSet) error {
	if r.Of.Instrument() != capture.FormulaInstrument {
		return nil
	}
	k, _ := kind.Find(r.Kind)
	for _, f := range set.Formulas {
		_, q, _ := formula.ParseUnit(f.Unit)
		switch {
		case f.Channel() != r.Of:
			continue
		case !k.Listen.HearsOne(r, capture.ChannelInfo{ID: r.Of, Quantity: q}):
			return fmt.Errorf("rule %s: %s judges %s, and formula %s comes to %s", r.Name, r.Kind, k.Listen.Quantity.Words(), f.Name, f.Unit)
		}
		return nil
	}
	return fmt.Errorf("rule %s: there is no formula %q", r.Name, r.Of.Input())
}
