package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
)

// trip watches over a second line: that the supply which an alarm of the rail
// switches off can be reached, and that it did go off when it was told to. It
// judges acts, not readings; its rule names the output in Against and follows
// from a rule with a Trip, see package rules.
type trip struct {
	base
	failed capture.Instant // nothing confirmed that it went off; 0: no such thing
	acted  int
	worst  float64 // seconds, of all that were confirmed
}

// ReadBackWithin is how long after a gap the supply may take until its protection
// has been read back: it connects anew.
const ReadBackWithin = 10 * time.Second

// OffByHand is what the alarm of a trip that nothing confirmed ends with.
const OffByHand = "switch it off by hand"

func newTrip(c Case) Judge {
	if c.Guard == nil {
		c.Guard = &capture.Protections{}
	}
	return &trip{base: base{Case: c}}
}

func (t *trip) output() string { return t.Rule.Against }

func (t *trip) state() capture.Protection { return t.Guard.Of(t.output()) }

func (t *trip) Act(at capture.Instant, act *capture.Act) {
	t.now = at
	if act.Verb != capture.ActOutput || !act.Concerns(t.output()) {
		if act.Verb == capture.ActReadBack && act.Subject == t.output() && capture.ReadsOff(act.Text) {
			t.failed = 0
		}
		return
	}
	switch {
	case act.Text == "off":
		t.failed = 0
		if act.Tripped() && act.Subject == t.output() {
			t.acted++
			t.worst = max(t.worst, act.Value)
		}
	case act.Text == "on":
		t.failed = 0 // a person switched it on: it is meant to be
	case act.By == capture.ByTrip && act.Text == capture.NotConfirmed:
		t.failed = at
	}
}

func (t *trip) Blind(at capture.Instant) { t.now = at }

func (t *trip) Read(capture.Instant, *capture.Reading) {}

// blind reports whether the trip was armed and cannot be relied on.
func (t *trip) blind() bool {
	p := t.state()
	switch {
	case !p.Programmed() || p.Armed():
		return false
	case p.Lost:
		return true
	}
	return t.now.Sub(p.Since) >= ReadBackWithin
}

func (t *trip) Condition() Condition {
	if t.failed != 0 || t.blind() {
		return Present
	}
	return Absent
}

func (t *trip) Outcome() capture.Outcome {
	switch {
	case t.Condition() == Present:
		return capture.Fail
	case t.state().Armed():
		return capture.Pass
	}
	return capture.NoData
}

func (t *trip) Verdict() capture.Verdict {
	v := t.blank(t.say() + t.delay())
	v.Outcome = t.Outcome()
	return v
}

func (t *trip) say() string {
	p := t.state()
	switch {
	case t.failed != 0:
		return "Trip through " + t.output() + " NOT confirmed off: " + OffByHand
	case p.Armed() && p.Unconfirmed() != "":
		return "Trip armed through " + t.output() + "; its " + p.Unconfirmed()
	case p.Armed():
		return "Trip armed through " + t.output()
	case p.Away:
		return "Trip cannot act: the link to " + t.output() + " is lost"
	case p.Programmed() && p.Elsewhere != "":
		return "Trip not armed: the protection of " + t.output() + " was set in " + p.Elsewhere + " and was not read back since"
	case p.Programmed():
		return "Trip not armed: the protection of " + t.output() + " was not read back again"
	}
	return "Trip not armed: protection not read back"
}

func (t *trip) delay() string {
	if t.acted == 0 {
		return ""
	}
	return fmt.Sprintf("; acted %s, off after %s at the most", times(t.acted), capture.Second.Text(t.worst, 0.001))
}

func (t *trip) Story() string {
	switch {
	case t.failed != 0:
		return "not confirmed"
	case t.blind():
		return "blind"
	}
	return ""
}

func (t *trip) Finding() Finding {
	if t.failed != 0 {
		return Finding{
			Say:      fmt.Sprintf("The trip of %s did not switch %s off: NOT confirmed off", t.Rail.Name, t.output()),
			Advice:   OffByHand + " at its panel, or pull its plug; then measure before you touch anything",
			Evidence: []capture.Instant{t.failed},
		}
	}
	p := t.state()
	return Finding{
		Say:      fmt.Sprintf("Second line is blind: the trip of %s through %s cannot act", t.Rail.Name, t.output()),
		Advice:   t.advice(p),
		Evidence: []capture.Instant{p.Since},
	}
}

func (t *trip) advice(p capture.Protection) string {
	if p.Away {
		return "look at its cable and its mains switch; until the link is back its own protection is all there is"
	}
	return "its protection did not read back as it was programmed: set its limits again"
}

func (t *trip) Recovery() Finding {
	say := fmt.Sprintf("The trip of %s through %s can act again: its protection was read back", t.Rail.Name, t.output())
	if !t.state().Armed() {
		say = fmt.Sprintf("%s is off, or was switched by hand", t.output())
	}
	return Finding{Say: say, Evidence: []capture.Instant{t.now}}
}
