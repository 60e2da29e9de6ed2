package discharge

import (
	"fmt"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// Step is one of prove, test, prove.
type Step struct {
	Name string
	Done bool
	Say  string
}

// State is a discharge as it stands.
type State struct {
	Card     capture.Discharge
	Answer   Answer
	Phase    Phase
	Begun    capture.Instant
	Closed   bool // a person ended it
	Last     Point
	Res      float64 // resolution of the last reading
	Held     capture.Instant
	ToGo     time.Duration // from the last reading to the level, by R and C; 0: below, or not falling
	Steps    []Step
	Proven   bool     // proved, tested and proved again
	News     string   // what is so, without figures where the reading tells them
	Say      string   // the news with its figures, one sentence
	Advice   string   // what to do about it; empty: nothing
	Remarks  []string // what qualifies it
	Finished string   // what is to be recorded when the person ends it
	Points   []Point
}

// State returns the newest discharge of the job as it stands at an instant.
// Times are said in the zone. A phase of [None] says that none was begun.
func (w *Watch) State(now capture.Instant, zone *time.Location) State {
	w.mu.Lock()
	defer w.mu.Unlock()
	r := &w.now
	if r.began == 0 {
		return State{}
	}
	s := State{Card: r.card, Answer: Reckon(r.card), Phase: r.phase(now), Begun: r.began, Closed: r.ended != 0, Last: r.last, Res: r.res, Held: r.held, Points: slices.Clone(r.points)}
	t := teller{r, zone}
	s.Steps = t.steps()
	s.Proven = s.Steps[0].Done && s.Steps[1].Done && s.Steps[2].Done
	if s.Phase == Falling || s.Phase == Slower || s.Phase == Faster {
		s.ToGo = r.toGo()
	}
	var figures string
	s.News, figures, s.Advice = t.say(s)
	s.Say = s.News + figures
	s.Remarks = t.remarks()
	s.Finished = t.finished(s)
	return s
}

// Proof returns the newest trial of a channel's meter, and when it was; 0: none.
func (w *Watch) Proof(ch capture.ChannelID) (capture.MeterProof, capture.Instant) {
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.trials[ch]
	return t.MeterProof, t.at
}

func (r *run) phase(now capture.Instant) Phase {
	switch {
	case !r.running():
		return Ended
	case r.held != 0:
		return Held
	case r.last.At == 0:
		return Waiting
	case r.backAt != 0 && r.last.Volts >= r.card.Level:
		return Back
	case r.last.Volts < r.card.Level:
		return Below
	case r.start.At == 0:
		return Stands
	case r.rising():
		return Rising
	case r.parted != "":
		return r.parted
	}
	return Falling
}

// rising reports whether it goes up again, by more than ten per cent of the
// lowest and one of where it began.
func (r *run) rising() bool {
	return r.last.Volts > float64(1.1*r.lowest)+float64(0.01*r.first)+float64(5*r.res)
}

// toGo is R C ln(V/level) from the last reading.
func (r *run) toGo() time.Duration {
	if r.last.Volts <= r.card.Level {
		return 0
	}
	return span(float64(r.card.Ohms*r.card.Farads) * elementary.Log(r.last.Volts/r.card.Level))
}

// tested reports whether the test itself counts: held, and not by a jump.
func (r *run) tested() bool { return r.held != 0 && r.parted != Faster }

type teller struct {
	*run
	zone *time.Location
}

func (t teller) clock(at capture.Instant) string { return at.Time().In(t.zone).Format("15:04") }

func (t teller) volts(p Point) string { return capture.Volt.Text(p.Volts, t.res) }

func (t teller) level() string { return Level(t.card.Level) }

func (t teller) steps() []Step {
	return []Step{
		t.proof("Meter proved before", t.before, "prove it on a known live source, then begin again"),
		t.test(),
		t.proof("Meter proved after", t.after, "prove it again on the same source"),
	}
}

func (t teller) proof(name string, p trial, missing string) Step {
	switch {
	case p.at == 0:
		return Step{Name: name, Say: missing}
	case !p.Good:
		return Step{Name: name, Say: fmt.Sprintf("it read %s where %s has %s", capture.Volt.Text(p.Read, p.Resolution), p.Source, Level(p.Expected))}
	}
	return Step{Name: name, Done: true, Say: fmt.Sprintf("%s at %s on %s", capture.Volt.Text(p.Read, p.Resolution), t.clock(p.at), p.Source)}
}

func (t teller) test() Step {
	s := Step{Name: "Below " + t.level() + ", measured"}
	switch {
	case t.astray:
		s.Say = "the meter was not on it, as its placement was corrected: begin again"
	case t.tested():
		s.Done, s.Say = true, "at "+t.clock(t.held)+" by "+string(t.card.Channel)
	case t.held != 0:
		s.Say = "it went down faster than R and C say: touch it again, and begin again"
	case t.backAt != 0:
		s.Say = "it came back: discharge it again"
	default:
		s.Say = "not yet"
	}
	return s
}

// say is the news, its figures, and what to do about it. No sentence says that
// it is safe.
func (t teller) say(s State) (news, figures, advice string) {
	what, now := t.card.What, ": "+t.volts(t.last)
	if t.why != 0 && s.Phase != Ended {
		return what + ": no reading", "", "the meter says " + t.why.String() + ": look at its function, range and probes"
	}
	switch s.Phase {
	case Waiting:
		return what + ": no reading yet", "", "hold the probes on it"
	case Stands:
		return what + " does not fall yet", now, t.standing()
	case Slower:
		return what + " falls slower than R and C say", now, "more capacitance, or the resistor has no contact"
	case Faster:
		return what + " falls faster than R and C say", now, "less capacitance, another load, or the probe lifted: touch it again"
	case Rising:
		return what + " rises again", now, "a source is still connected, or the dielectric gives charge back: keep the resistor on"
	case Below:
		return what + " is below " + t.level(), now, "hold the probes still for some seconds"
	case Back:
		return what + " came back to " + capture.Volt.Text(t.backTo, t.res), "", "the dielectric gave charge back, or a source is still connected: discharge it again"
	case Held:
		return t.heldWords(s), "", t.next(s)
	case Ended:
		return t.finished(s), "", t.next(s)
	}
	return what + " falls", fmt.Sprintf("%s, %s to %s", now, Seconds(t.toGo()), t.level()), ""
}

func (t teller) standing() string {
	if t.last.At.Sub(t.began) < stands {
		return "put the resistor across it"
	}
	return "put the resistor across it: if it is, it has no contact, or a source is still connected"
}

func (t teller) heldWords(s State) string {
	if s.Proven {
		return fmt.Sprintf("%s discharged: proven at %s by %s", t.card.What, t.clock(t.held), t.card.Channel)
	}
	return fmt.Sprintf("%s is below %s, measured at %s, not proven yet", t.card.What, t.level(), t.clock(t.held))
}

// next is the step that is missing.
func (t teller) next(s State) string {
	for _, step := range s.Steps {
		if !step.Done {
			return step.Name + ": " + step.Say
		}
	}
	return ""
}

// remarks are what the figures alone do not say.
func (t teller) remarks() []string {
	var out []string
	if t.held != 0 && !t.fell {
		out = append(out, "It was below from the first reading: only the proofs say that the probes touched it.")
	}
	if up := t.top - t.lowest; t.held != 0 && up > float64(5*t.res) && up > float64(0.002*t.first) {
		out = append(out, fmt.Sprintf("It came back from %s to %s: the dielectric gives charge back (absorption). Leave the resistor on.", capture.Volt.Text(t.lowest, t.res), capture.Volt.Text(t.top, t.res)))
	}
	if t.parted == Slower && t.held != 0 {
		out = append(out, "It fell slower than R and C say: there is more capacitance than the card has, or the contact was bad.")
	}
	return out
}

// finished is what is recorded in the end.
func (t teller) finished(s State) string {
	switch {
	case s.Proven:
		return fmt.Sprintf("%s is below %s, measured: %s at %s by %s, the meter proved before and after", t.card.What, t.level(), t.volts(t.last), t.clock(t.held), t.card.Channel)
	case t.astray:
		return t.card.What + " is not proven discharged: the meter was not on it"
	case t.last.At == 0:
		return t.card.What + " is not proven discharged: nothing was measured"
	}
	return fmt.Sprintf("%s is not proven discharged: last measured %s", t.card.What, t.volts(t.last))
}
