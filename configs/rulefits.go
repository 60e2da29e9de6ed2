package configs

import (
	"strings"

	"steadyrail/capture"
	"steadyrail/rules"
)

// checkFits finds the rules that would look like a guard and be none: the kind
// does not judge what the channel measures, a figure is in another unit, or
// stands where nothing reads it.
func (r *reader) checkFits(w writtenRule) {
	r.checkLimit(w)
	if r.about == nil {
		return // an instrument cannot be made: told already
	}
	if ch, known := r.channel(w.rule.Of); known {
		if err := rules.Fits(w.rule, ch); err != nil {
			r.add(max(w.lines["of"], w.line), join(w.key, "of"), "", "%v", err)
			return
		}
		r.checkUnits(w, ch)
	}
	beside, known := r.about(capture.ChannelID(w.rule.Against))
	switch {
	case !known:
	case rules.RailAgainst(w.rule) && r.c.Job == nil:
		r.add(max(w.lines["against"], w.line), join(w.key, "against"), "", "%s is held against a rail, and %s is a channel", w.rule.Kind, w.rule.Against)
	case rules.ChannelAgainst(w.rule):
		if err := rules.FitsBeside(w.rule, beside); err != nil {
			r.add(max(w.lines["against"], w.line), join(w.key, "against"), "", "%v", err)
		}
	}
}

// channel describes the channel that a rule judges: an instrument's, or a
// formula's.
func (r *reader) channel(id capture.ChannelID) (capture.ChannelInfo, bool) {
	for _, f := range r.c.Formulas {
		if q, known := rules.FormulaQuantity(f); known && f.Channel() == id {
			return capture.ChannelInfo{ID: id, Quantity: q}, q != capture.NoQuantity
		}
	}
	return r.about(id)
}

// checkUnits holds the figures of a rule against what its channel measures. A
// bare figure is in that channel's unit.
func (r *reader) checkUnits(w writtenRule, ch capture.ChannelInfo) {
	unit := ch.Quantity.Unit()
	for _, key := range []string{"limit", "deadband", "low", "high"} {
		text := w.texts[key]
		if key == "limit" || key == "deadband" {
			if m := rules.LimitOf(w.rule.Kind); m.Unit != capture.Volt {
				continue // read in the kind's own unit
			} else if m.Hourly {
				text = strings.TrimSpace(strings.TrimSuffix(text, "/h"))
			}
		}
		if _, fits := inUnits(text, []capture.Unit{unit}); text != "" && !fits {
			r.add(w.lines[key], join(w.key, key), "write it in "+plainly(unit), "%q is in another unit than %s", cut(w.texts[key]), ch.ID)
		}
	}
}

func plainly(u capture.Unit) string {
	if u == capture.One {
		return "plain figures"
	}
	return u.ASCII()
}

// checkLimit refuses a limit that nothing reads, and one that leaves open what it
// is: of a slope for how long, of a temperature whether a level or a rise.
func (r *reader) checkLimit(w writtenRule) {
	text, m := w.texts["limit"], rules.LimitOf(w.rule.Kind)
	kelvin := strings.HasSuffix(text, "K")
	what, hint := "", ""
	switch {
	case text == "":
	case !rules.TakesLimit(w.rule.Kind):
		what, hint = w.rule.Kind+" has no limit", "leave it out"
		if w.rule.Kind == "band" {
			hint = "write low and high"
		}
	case m.Hourly && !strings.HasSuffix(text, "/h") && !bare(text):
		what, hint = quoted(text)+" does not say for how long", "write "+cut(text)+"/h"
	case m.Kelvin && kelvin && w.rule.Against == "" && w.rule.Of.Instrument() != capture.FormulaInstrument:
		what, hint = quoted(text)+" is a difference, and the rule is held against nothing", "write a temperature in degC, or against: the other temperature"
	case m.Kelvin && !kelvin && !bare(text) && w.rule.Against != "":
		what, hint = quoted(text)+" is a temperature, and held against another one the limit is a difference", "write it in K"
	}
	if what != "" {
		r.add(w.lines["limit"], join(w.key, "limit"), hint, "%s", what)
	}
}

func quoted(text string) string { return `"` + cut(text) + `"` }

// bare reports a figure without a unit.
func bare(text string) bool { return !strings.ContainsFunc(text, isLetter) }

func isLetter(c rune) bool { return !strings.ContainsRune("0123456789.+-eE ", c) }
