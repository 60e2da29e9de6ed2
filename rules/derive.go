package rules

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/formula"
	"steadyrail/rules/uncertainty"
)

// A formula is computed at each tick from the newest reading of each of its
// inputs that was answered before it, when one of them is new since it was
// computed last. Nothing is interpolated: the readings lie as far apart as they
// came, and the figure's HalfWidth covers them all. There is no figure while an
// input's newest reading has no value that may be judged, is older than
// Formula.Age, or was answered before its probe was moved or readings were lost.

// The age of an input when the formula does not say one: so many of its own
// intervals, but not less than a least. Two answers may be lost.
const (
	ageIntervals = 3
	ageLeast     = time.Second
)

// note keeps a reading for the formulas; they hear of it with the next tick.
func (e *Engine) note(at capture.Instant, r *capture.Reading) {
	for _, d := range e.formulas {
		for _, in := range d.inputs {
			if in.id == r.Channel {
				in.reading, in.at, in.fresh = *r, at, true
			}
		}
	}
}

// forgetInputs drops what the formulas have heard.
func (e *Engine) forgetInputs() {
	for _, d := range e.formulas {
		for _, in := range d.inputs {
			in.at = 0
		}
	}
}

// derive computes every formula at a tick.
func (e *Engine) derive(at capture.Instant) {
	for _, d := range e.formulas {
		why, figure := e.unfit(d, at), formula.Result{}
		if why == "" && d.anew() {
			figure, why = d.compute(e)
			if why == "" {
				d.file(at, figure)
				e.tellFigure(at, d)
			}
		} else if why == "" {
			why = d.newest.Why // of the same readings: a division by zero stays one
		} else {
			d.anew()
		}
		d.say(e, at, why)
	}
}

// say hands out what changed: a new figure, or that there is none and why. That
// an age grows on is no news.
func (d *derived) say(e *Engine, at capture.Instant, why string) {
	filed := d.newest.Reading.Ordinal != 0 && d.newest.At == at
	turned := why != d.newest.Why
	if d.seen && !filed && !turned {
		return
	}
	if !filed {
		d.newest.At = at
	}
	d.newest.Why, d.seen = why, true
	e.out.Derived = append(e.out.Derived, d.newest)
}

// anew reports whether an input is new since the last time, and takes note.
func (d *derived) anew() bool {
	any := false
	for _, in := range d.inputs {
		any = any || in.fresh
		in.fresh = false
	}
	return any
}

// unfit says why an input gives no figure now; empty: all do.
func (e *Engine) unfit(d *derived, at capture.Instant) string {
	for _, in := range d.inputs {
		ch := e.channels[in.id]
		switch age := at.Sub(in.at); {
		case ch == nil:
			return string(in.id) + " serves no job here"
		case ch.idle:
			return string(in.id) + " is not selected: another function of its input is"
		case in.at == 0 || in.at < ch.placedAt:
			return string(in.id) + " has no reading yet"
		case !in.reading.Good():
			return string(in.id) + " has no value: " + in.reading.Flags.String()
		case age > d.allowed(ch):
			return fmt.Sprintf("%s is more than %v old", in.id, d.allowed(ch))
		}
	}
	return ""
}

// allowed is how old a reading of an input may be.
func (d *derived) allowed(ch *channel) time.Duration {
	if d.formula.Age > 0 {
		return d.formula.Age
	}
	return max(ageIntervals*ch.info.Every, ageLeast)
}

// compute evaluates the formula over its inputs, or says why it has no value.
func (d *derived) compute(e *Engine) (formula.Result, string) {
	in, states, known := make([]formula.Input, len(d.inputs)), make([]uncertainty.Statement, len(d.inputs)), true
	d.given = uncertainty.Given{}
	for i, from := range d.inputs {
		info, _ := e.roster.Channel(from.id)
		of := uncertainty.Of(from.reading, info.Accuracy)
		of.Ambient = e.room.Now(from.at)
		s := uncertainty.State(of)
		in[i] = formula.Input{Value: from.reading.Value, Resolution: from.reading.Resolution, Standard: s.Standard}
		states[i], known = s, known && s.Stated
		d.given.Assumed = d.given.Assumed || slices.Contains(s.Notes, uncertainty.Assumed)
	}
	figure, err := d.expr.Eval(in)
	var at *formula.Error
	if errors.As(err, &at) {
		return figure, at.Say
	}
	if known {
		d.given.Standard = d.standard(figure.Slopes, states)
	}
	return figure, ""
}

// standard combines the uncertainties of the inputs. Those of one quantity of
// one instrument have the gain of their range and its temperature in common,
// which cancels in a difference and adds in a sum (JCGM 100:2008, 5.2); all
// others are taken as independent.
func (d *derived) standard(slopes []float64, states []uncertainty.Statement) float64 {
	sum := 0.0
	for i := range slopes {
		if slices.ContainsFunc(d.inputs[:i], func(in *input) bool { return related(in, d.inputs[i]) }) {
			continue // it went with an earlier one
		}
		var terms []uncertainty.Term
		for j := i; j < len(slopes); j++ {
			if related(d.inputs[i], d.inputs[j]) {
				terms = append(terms, uncertainty.Term{Statement: states[j], Sensitivity: slopes[j]})
			}
		}
		u := uncertainty.Linear(0, 0, true, terms...).Standard
		sum += float64(u * u)
	}
	return math.Sqrt(sum)
}

// related reports whether two inputs are one quantity of one instrument.
func related(a, b *input) bool {
	return a.id.Instrument() == b.id.Instrument() && a.reading.Quantity == b.reading.Quantity
}

// tellFigure hands the newest figure to the rules that listen to the formula,
// with how far it may be off.
func (e *Engine) tellFigure(at capture.Instant, d *derived) {
	for _, w := range d.channel.watchers {
		w.judge.Given(d.given)
	}
	e.heard(at, &d.channel, &d.newest.Reading)
}

// file makes a reading of a figure: it was measured when its inputs were.
func (d *derived) file(at capture.Instant, figure formula.Result) {
	r := capture.Reading{
		Channel: d.channel.info.ID, Quantity: d.channel.info.Quantity, Value: figure.Value, Resolution: figure.Resolution,
		Ordinal: d.newest.Reading.Ordinal + 1,
	}
	var from, to capture.Instant
	for i, in := range d.inputs {
		middle, half := in.measured(), in.reading.HalfWidth
		if i == 0 || middle.Add(-half) < from {
			from = middle.Add(-half)
		}
		to = max(to, middle.Add(half))
	}
	r.Measured = from + (to-from)/2
	r.HalfWidth = max(r.Measured.Sub(from), to.Sub(r.Measured))
	d.newest.At, d.newest.Reading, d.newest.Uncertainty = at, r, float64(2*d.given.Standard)
}

// measured is when the reading was measured, as far as that is known.
func (in *input) measured() capture.Instant {
	if in.reading.Measured != 0 {
		return in.reading.Measured
	}
	return in.at
}
