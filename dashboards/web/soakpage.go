package web

import (
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// SoakRows are the steps of the plan for the Soak page.
func (v *view) SoakRows() []soakRow {
	var out []soakRow
	if v.Soaking == nil {
		return nil
	}
	for i, s := range v.Soaking.Steps {
		r := soakRow{Number: i + 1, Say: capital(glue(s.Say)), When: v.short0(s.From), State: "to come", Mark: "m-silent"}
		switch {
		case s.State == capture.StepStopped:
			r.State, r.Mark, r.Class = "stopped", "m-alarm", "is-outside"
		case s.State == capture.StepDone && !strings.HasPrefix(s.Verdict, capture.QuietStep), s.State == capture.StepDone && strings.Contains(certain(s.Verdict), "outside the band"):
			r.State, r.Mark, r.Class = glue(s.Verdict), "m-alarm", "is-outside"
		case s.State == capture.StepDone && certain(s.Verdict) != s.Verdict:
			r.State, r.Mark, r.Class = glue(s.Verdict), "m-doubt", "is-doubt"
		case s.State == capture.StepDone:
			r.State, r.Mark, r.Class = glue(s.Verdict), "m-inside", "is-inside"
		case s.State == capture.StepBegun && v.Soaking.Step == i+1:
			r.State, r.Mark, r.Class = "now", "m-doubt", "is-inside"
		}
		out = append(out, r)
	}
	return out
}

// certain is a verdict without the outcomes of which the meter cannot tell.
func certain(verdict string) string {
	return strings.NewReplacer("cannot tell, inside the band", "", "cannot tell, outside the band", "").Replace(verdict)
}

type soakRow struct {
	Number                        int
	Say, When, State, Mark, Class string
}

func (v *view) short0(at capture.Instant) string {
	if at == 0 {
		return ""
	}
	return v.short(at)
}

// SoakShare is how much of the soak is over, in per cent of a bar.
func (v *view) SoakShare() int {
	s := v.Soaking
	if s == nil || s.Needed <= 0 {
		return 0
	}
	return int(min(100, 100*s.Watched/s.Needed))
}

// SoakElapsed and SoakNeeded are the two lengths that count.
func (v *view) SoakElapsed() string { return soakLength(v.Soaking.Watched) }

// SoakNeeded is how long it shall last.
func (v *view) SoakNeeded() string { return soakLength(v.Soaking.Needed) }

func soakLength(d time.Duration) string {
	if d <= 0 {
		return "0" + nbsp + "s"
	}
	return spanText(d)
}

// SoakWaits reports whether the plan waits for a person.
func (v *view) SoakWaits() bool { return v.Soaking != nil && v.Soaking.State == capture.PlanWaits }

// SoakRuns reports whether a soak is under way.
func (v *view) SoakRuns() bool {
	return v.Soaking != nil && (v.Soaking.State == capture.PlanRuns || v.Soaking.State == capture.PlanWaits)
}

// Outputs names what a plan could switch.
func (v *view) Outputs() []string {
	var out []string
	for _, in := range v.snap.Instruments {
		for _, a := range in.Info.Acts {
			if a == string(capture.ActOutput) {
				out = append(out, in.Info.Name)
			}
		}
	}
	return out
}

// Loads names the electronic loads that a plan could set.
func (v *view) Loads() []string {
	var out []string
	for _, in := range v.snap.Instruments {
		limits, input := false, false
		for _, a := range in.Info.Acts {
			limits, input = limits || a == string(capture.ActLimits), input || a == string(capture.ActInput)
		}
		if limits && input {
			out = append(out, in.Info.Name)
		}
	}
	return out
}

// provenSoFar is the place of the sentence that says what it proves; -1: nothing
// does.
func provenSoFar(s *capture.RegimenState) int {
	return slices.IndexFunc(s.Say, func(line string) bool { return strings.Contains(line, " prove, with ") })
}

// SoakLines are the sentences below: the head says what it proves already, and
// the figures say the length of what is in one piece.
func (v *view) SoakLines() []string {
	var out []string
	proof := provenSoFar(v.Soaking)
	for i, line := range v.Soaking.Say {
		if i != proof && (i > 0 || len(v.Soaking.Parts) > 1) {
			out = append(out, glue(line))
		}
	}
	return out
}

// soakPage is the sentence of the page.
func (v *view) soakPage() {
	s := v.Soaking
	switch {
	case !v.HasJob:
		v.Say, v.Proof = "No job is open", v.instrumentsSentence()
	case s == nil || s.State == "":
		v.Say, v.Proof = "No soak was started", "Say how long, and whether power, input or load shall change meanwhile."
	case s.State == capture.PlanWaits:
		v.Say, v.Proof = "The soak waits for you", capital(glue(s.Why))+"."
	case s.State == capture.PlanStopped:
		v.Say, v.Proof = "The soak stopped", capital(glue(s.Why))+"."
	case s.State == capture.PlanDone:
		v.Say, v.Proof = "The soak is over", "Too little was watched to prove anything."
		if proof := provenSoFar(s); proof >= 0 {
			v.Proof = glue(s.Say[proof])
		}
	default:
		v.Say, v.Proof = "Soaking, "+together(v.SoakElapsed()), "Nothing is proved yet."
		if proof := provenSoFar(s); proof >= 0 {
			v.Proof = glue(s.Say[proof])
		}
		if s.Needed > 0 {
			v.Say = "Soaking, " + together(v.SoakElapsed()) + " of " + together(v.SoakNeeded())
		}
	}
}
