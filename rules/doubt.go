package rules

import (
	"math"
	"slices"
	"strconv"
	"time"

	"steadyrail/capture"
)

// askAgain is the least time between two questions about one output. It doubles
// with each, up to askSeldom: while a short holds a supply down in its current
// limit, or another output of it is off, the doubt stays and the answer too. A
// minute without a question begins anew.
const (
	askAgain  = 2 * time.Second
	askSeldom = 16 * time.Second
	askAnew   = time.Minute
)

// nothingSet is what an output that is on has at the least when nobody here set it,
// in volt: below, there is nothing at its terminals to speak of.
const nothingSet = 0.5

// OutputDoubts finds outputs that may have gone off by themselves: on by the
// record, and less than half of what was set at their own terminals. A supply in
// its current limit looks the same, so this is a reason to ask and no finding. The
// zero value knows of no output. Not safe for concurrent use.
type OutputDoubts struct{ on []switchedOn }

type switchedOn struct {
	output string
	set    float64 // V
	is     bool
	off    bool // switched off by the newest command, read back
	turns  int  // commands to switch it, by the record
	asked  capture.Instant
	wait   time.Duration // until it may be asked again
}

// On reports whether an output is on by the record.
func (d *OutputDoubts) On(output string) bool {
	_, on := d.Turn(output)
	return on
}

// Turn counts the commands to switch an output that the record has, and reports
// whether it is on by them. An answer to a question that was asked at another turn
// proves nothing about this one.
func (d *OutputDoubts) Turn(output string) (turn int, on bool) {
	for _, s := range d.on {
		if s.output == output {
			return s.turns, s.is
		}
	}
	return 0, false
}

// WentOff reports whether the newest command of an output was off, and was confirmed.
func (d *OutputDoubts) WentOff(output string) bool {
	return slices.ContainsFunc(d.on, func(s switchedOn) bool { return s.output == output && s.off })
}

// Consume takes the next record of the job and returns the outputs that are to be
// asked whether they are on.
func (d *OutputDoubts) Consume(rec capture.Record) (ask []string) {
	switch it := rec.Item.(type) {
	case capture.Act:
		d.act(it)
	case capture.Reading:
		if it.Quantity == capture.DCVoltage && it.Good() {
			return d.read(rec.At, it)
		}
	}
	return nil
}

func (d *OutputDoubts) act(act capture.Act) {
	switch act.Verb {
	case capture.ActLimits:
		if v, err := strconv.ParseFloat(capture.LimitIn(act.Text, "volts"), 64); err == nil {
			d.of(act.Subject).set = v
		}
	case capture.ActOutput:
		d.of(act.Subject)
		for i := range d.on {
			if act.Concerns(d.on[i].output) {
				d.on[i].asked = 0
				d.on[i].turns++
				d.on[i].off = act.Text == "off"
				d.on[i].is = act.Text == "on" && d.on[i].output == act.Subject && act.By != capture.ByInject // that is into a short
			}
		}
	case capture.ActReadBack:
		if capture.ReadsOff(act.Text) {
			d.of(act.Subject).is = false // it is known: nothing is left to ask
		}
	}
}

func (d *OutputDoubts) of(output string) *switchedOn {
	i := slices.IndexFunc(d.on, func(s switchedOn) bool { return s.output == output })
	if i < 0 {
		d.on = append(d.on, switchedOn{output: output})
		i = len(d.on) - 1
	}
	return &d.on[i]
}

func (d *OutputDoubts) read(at capture.Instant, r capture.Reading) (ask []string) {
	for i := range d.on {
		s := &d.on[i]
		if !s.is || (capture.Act{Subject: s.output}).Instrument() != r.Channel.Instrument() {
			continue
		}
		if math.Abs(r.Value) < max(nothingSet, s.set/2) && s.mayAsk(at) {
			ask = append(ask, s.output)
		}
	}
	return ask
}

// mayAsk reports whether the output may be asked again at an instant, as it then
// is.
func (s *switchedOn) mayAsk(at capture.Instant) bool {
	since := at.Sub(s.asked)
	switch {
	case s.asked == 0 || since >= askAnew:
		s.wait = askAgain
	case since < s.wait:
		return false
	default:
		s.wait = min(2*s.wait, askSeldom)
	}
	s.asked = at
	return true
}
