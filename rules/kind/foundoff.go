package kind

import (
	"fmt"

	"steadyrail/capture"
)

// foundOff says that a supply's output is off though nothing here switched it off,
// and which of its own protections did, as far as the supply tells. It judges acts,
// not readings; its rule names the output in Against and follows from the first
// time, see [capture.FoundOff]. What is read back once somebody has commanded it
// off, or begins to, is that command's doing.
type foundOff struct {
	base
	since capture.Instant // 0: it is as it was switched
	text  string          // of the read-back
	count int
	off   bool // commanded off, or about to be
}

func newFoundOff(c Case) Judge { return &foundOff{base: base{Case: c}} }

func (f *foundOff) output() string { return f.Rule.Against }

func (f *foundOff) Act(at capture.Instant, act *capture.Act) {
	f.now = at
	switch {
	case act.Verb == capture.ActOutput && act.Concerns(f.output()):
		f.since = 0 // somebody has switched it since: it is as it is meant to be
		f.off = act.Text != "on" && act.Text != capture.NotConfirmed
	case act.Verb != capture.ActReadBack || act.Subject != f.output():
	case f.off: // the answer of a question from before
	case capture.FoundOff(act.Text):
		f.since, f.text, f.count = at, act.Text, f.count+1
	case !capture.ReadsOff(act.Text):
		f.since = 0
	}
}

func (f *foundOff) Blind(at capture.Instant) { f.now = at }

func (f *foundOff) Read(capture.Instant, *capture.Reading) {}

func (f *foundOff) Condition() Condition {
	if f.since != 0 {
		return Present
	}
	return Absent
}

func (f *foundOff) Outcome() capture.Outcome {
	switch {
	case f.since != 0:
		return capture.Fail
	case f.count > 0:
		return capture.Pass
	}
	return capture.NoData
}

func (f *foundOff) Verdict() capture.Verdict {
	v := f.blank(f.say())
	v.Outcome = f.Outcome()
	return v
}

func (f *foundOff) say() string {
	switch {
	case f.since != 0:
		return capture.WhyOff(f.output(), f.text)
	case f.count > 0:
		return fmt.Sprintf("The output of %s was found off %s, and was switched since", f.output(), times(f.count))
	}
	return "The output of " + f.output() + " is as it was switched"
}

func (f *foundOff) Story() string {
	if f.since == 0 {
		return ""
	}
	return capture.TrippedIn(f.text)
}

func (f *foundOff) Finding() Finding {
	return Finding{Say: capture.WhyOff(f.output(), f.text), Advice: capture.TrippedAdvice, Evidence: []capture.Instant{f.since}}
}

func (f *foundOff) Recovery() Finding {
	return Finding{Say: "The output of " + f.output() + " was switched by hand since", Evidence: []capture.Instant{f.now}}
}
