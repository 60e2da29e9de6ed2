package kind

import (
	"fmt"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// When next to nothing flows: the output stands at its set voltage and not in its
// current limit, with a current of at most so small a part of the limit. A rail that
// is short takes all of it, for the limit is what the thinnest thing in its way may
// carry and not what the short would; the shares are common practice.
const (
	flowVolts = 0.9 // of what is set
	flowAmps  = 0.1 // of the limit, resolution included
	flowReads = 2   // readings of the current in a row: one may be of the moment of switching
)

// Flow says what flows in an injection, by what the supply reads at its own
// terminals while its output is on. Which of several outputs a channel is of the
// record does not say, so there it says nothing. The zero value knows of no
// injection.
type Flow struct {
	Output       string
	volts, limit float64         // V and A, as they are set
	on           capture.Instant // when it was switched on; 0: it is not
	v, i         capture.Reading // the newest; of v none while vAt is 0
	vAt          capture.Instant
	over         bool // it was ended: a person may switch the output on for something else
	reads, low   int  // of the current since it is on; those in a row of next to nothing
}

// Act takes what was done. An injection that begins forgets the one before.
func (f *Flow) Act(at capture.Instant, act *capture.Act) {
	switch {
	case !act.Concerns(f.Output):
	case act.Verb == capture.ActInject && act.Value > 0:
		text := strings.TrimPrefix(act.Text, "start: ")
		*f = Flow{Output: f.Output, volts: setTo(text, "volts"), limit: setTo(text, "amperes")}
	case act.Verb == capture.ActOutput && act.Text == "on":
		f.on = at
		if f.over {
			f.on = 0
		}
	case act.Verb == capture.ActOutput, act.Verb == capture.ActInject:
		f.on, f.over = 0, true
	}
}

func setTo(text, name string) float64 {
	v, err := strconv.ParseFloat(capture.LimitIn(text, name), 64)
	if err != nil {
		return 0
	}
	return v
}

// Read takes a reading. What was or may have been sampled before the output was on
// says nothing of it.
func (f *Flow) Read(at capture.Instant, r *capture.Reading) {
	if f.on == 0 || f.volts <= 0 || f.limit <= 0 || r.Channel.Instrument() != f.Output || !r.Good() || r.Sampled(at).Add(-r.HalfWidth) < f.on {
		return
	}
	switch r.Quantity {
	case capture.DCVoltage:
		f.v, f.vAt = *r, at
	case capture.DCCurrent:
		f.current(r)
	}
}

func (f *Flow) current(r *capture.Reading) {
	if f.vAt == 0 {
		return
	}
	f.i, f.reads = *r, f.reads+1
	if f.limited() || abs(f.v.Value) < float64(flowVolts*f.volts) || abs(r.Value)+r.Resolution > float64(flowAmps*f.limit) {
		f.low = 0
		return
	}
	f.low++
}

func (f *Flow) limited() bool { return (f.v.Flags | f.i.Flags).Has(capture.Limiting) }

// On reports whether the output is on for the injection.
func (f *Flow) On() bool { return f.on != 0 }

// Known reports whether enough was read to say what flows.
func (f *Flow) Known() bool { return f.reads >= flowReads }

// Nothing reports whether next to nothing flows.
func (f *Flow) Nothing() bool { return f.low >= flowReads }

// String says what flows, with the figures; "" while that is not known:
//
//	next to nothing flows: 2 mA of at most 0.5 A, at 0.300 V of 0.3 V: the short is not there now, or a lead is off
//	0.500 A of at most 0.5 A flows, at 21 mV of 0.3 V, in its current limit
func (f *Flow) String() string {
	if !f.Known() {
		return ""
	}
	amps := capture.Ampere.Text(f.i.Value, f.i.Resolution) + " of at most " + figured(f.limit) + " A"
	at := "at " + capture.Volt.Text(f.v.Value, f.v.Resolution) + " of " + figured(f.volts) + " V"
	switch {
	case f.Nothing():
		return fmt.Sprintf("next to nothing flows: %s, %s: the short is not there now, or a lead is off", amps, at)
	case f.limited():
		at += ", in its current limit"
	}
	return amps + " flows, " + at
}

func figured(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
