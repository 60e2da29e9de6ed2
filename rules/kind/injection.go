package kind

import (
	"fmt"

	"steadyrail/capture"
)

// injection watches over a small current that walks a short down, see
// [capture.ActInject]: that its output did go off when its minute was over, and
// that it can be ended while it is on. It judges acts; of readings it says what
// flows, see [Flow], and judges nothing by it. Its rule names the output in Against.
type injection struct {
	base
	begun  capture.Instant // under way since; 0: it is not
	failed capture.Instant // nothing confirmed that it went off; 0: no such thing
	away   capture.Instant // the link was lost while under way; 0: it was not
	count  int
	flow   Flow
}

func newInjection(c Case) Judge {
	return &injection{base: base{Case: c}, flow: Flow{Output: c.Rule.Against}}
}

func (j *injection) output() string { return j.Rule.Against }

func (j *injection) Act(at capture.Instant, act *capture.Act) {
	j.now = at
	j.flow.Act(at, act)
	if !act.Concerns(j.output()) {
		return
	}
	switch act.Verb {
	case capture.ActInject:
		j.begun = 0
		if act.Value > 0 {
			j.begun, j.failed, j.away, j.count = at, 0, 0, j.count+1
		}
	case capture.ActOutput:
		j.switched(at, act)
	case capture.ActReadBack:
		if capture.ReadsOff(act.Text) {
			j.begun, j.failed = 0, 0
		}
	case capture.ActLinkLost:
		j.away = at
	case capture.ActLinkBack:
		j.away = 0
	}
}

func (j *injection) switched(at capture.Instant, act *capture.Act) {
	switch act.Text {
	case "off":
		j.begun, j.failed = 0, 0
	case "on":
		j.failed = 0 // a person switched it on: it is meant to be
	case capture.NotConfirmed:
		if act.By == capture.ByInject {
			j.begun, j.failed = 0, at
		}
	}
}

func (j *injection) Blind(at capture.Instant) { j.now = at }

func (j *injection) Read(at capture.Instant, r *capture.Reading) { j.flow.Read(at, r) }

// endless reports whether an injection is under way that nobody can end.
func (j *injection) endless() bool { return j.begun != 0 && j.away != 0 }

func (j *injection) Condition() Condition {
	if j.failed != 0 || j.endless() {
		return Present
	}
	return Absent
}

func (j *injection) Outcome() capture.Outcome {
	switch {
	case j.Condition() == Present:
		return capture.Fail
	case j.count > 0 && j.begun == 0:
		return capture.Pass
	}
	return capture.NoData
}

func (j *injection) Verdict() capture.Verdict {
	v := j.blank(j.say())
	v.Outcome = j.Outcome()
	return v
}

func (j *injection) say() string {
	switch {
	case j.failed != 0:
		return "Injection through " + j.output() + " NOT confirmed off: " + OffByHand
	case j.endless():
		return "Injection through " + j.output() + " cannot be ended: its link is lost"
	case j.begun != 0:
		return "Injection through " + j.output() + " under way" + j.flows()
	case j.count > 0:
		return "Injection through " + j.output() + " over, its output off" + j.flows()
	}
	return "No injection through " + j.output()
}

// flows says what flows, or did at last.
func (j *injection) flows() string {
	switch said := j.flow.String(); {
	case said == "":
		return ""
	case j.begun == 0:
		return ". At last: " + said
	default:
		return ": " + said
	}
}

func (j *injection) Story() string {
	switch {
	case j.failed != 0:
		return "not confirmed"
	case j.endless():
		return "endless"
	}
	return ""
}

func (j *injection) Finding() Finding {
	if j.failed != 0 {
		return Finding{
			Say:      fmt.Sprintf("The injection through %s did not end: NOT confirmed off", j.output()),
			Advice:   OffByHand + " at its panel, or pull its plug; then measure before you touch anything",
			Evidence: []capture.Instant{j.failed},
		}
	}
	return Finding{
		Say:      fmt.Sprintf("An injection through %s is under way and its link is lost: nobody can end it from here", j.output()),
		Advice:   OffByHand + " at its panel, or pull its plug",
		Evidence: []capture.Instant{j.away},
	}
}

func (j *injection) Recovery() Finding {
	say := fmt.Sprintf("The output of %s is off, or was switched by hand", j.output())
	if j.begun != 0 {
		say = fmt.Sprintf("The link to %s is back: its injection ends by itself", j.output())
	}
	return Finding{Say: say, Evidence: []capture.Instant{j.now}}
}
