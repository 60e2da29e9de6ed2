package report

import (
	"strings"

	"steadyrail/capture"
)

// railState is what the evidence says of one rail, at a glance.
type railState struct {
	name         string
	failedBefore bool
	after        capture.Outcome // of the last voltage under load; NoData when there is none
	indicated    bool            // from a meter without a stated accuracy
	measured     bool            // anything at all
	alarmsEver   int
}

func (t teller) states() []railState {
	var out []railState
	for _, r := range t.d.Rails {
		s := railState{name: named(r.Rail.Name), measured: len(r.Before)+len(r.After)+len(r.Watches) > 0}
		for _, b := range r.Before {
			s.failedBefore = s.failedBefore || b.Outcome == capture.Fail
		}
		if a, ok := lastOf(r.After, capture.DCVoltage); ok {
			s.after = a.Outcome
		}
		for _, v := range r.Verdicts {
			if v.Indicated && v.Kind == "band" {
				s.indicated = true
			}
		}
		for _, a := range t.d.Alarms {
			if _, of := t.onOutput(a.Rule); a.Rail == r.Rail.Name && !of {
				s.alarmsEver++
			}
		}
		out = append(out, s)
	}
	return out
}

func lastOf(results []capture.Result, q capture.Quantity) (capture.Result, bool) {
	for i := len(results) - 1; i >= 0; i-- {
		if results[i].Quantity == q {
			return results[i], true
		}
	}
	return capture.Result{}, false
}

// asFound returns the reading that tells most of how a rail was found: the
// first that failed, else the first.
func asFound(results []capture.Result, q capture.Quantity) (capture.Result, bool) {
	var first capture.Result
	found := false
	for _, r := range results {
		if r.Quantity != q {
			continue
		}
		if r.Outcome == capture.Fail {
			return r, true
		}
		if !found {
			first, found = r, true
		}
	}
	return first, found
}

func names(states []railState, keep func(railState) bool) []string {
	var out []string
	for _, s := range states {
		if keep(s) {
			out = append(out, s.name)
		}
	}
	return out
}

// obstacles lists, in words, everything that stands between the set and a
// signature. It is empty only when the evidence is complete.
func (t teller) obstacles() []string {
	var out []string
	states := t.states()
	if len(states) == 0 {
		out = append(out, "the job has no rails")
	}
	add := func(n []string, one, many string) {
		if len(n) == 1 {
			out = append(out, n[0]+" "+one)
		} else if len(n) > 1 {
			out = append(out, capture.Listed(n)+" "+many)
		}
	}
	if t.d.Broken != "" {
		out = append(out, "the record was changed after it was written")
	}
	add(names(states, func(s railState) bool { return s.after == capture.Fail }), "is outside its band", "are outside their bands")
	add(names(states, func(s railState) bool {
		return s.after == capture.ConditionalPass || s.after == capture.ConditionalFail
	}), "stands too near an edge for its meter to tell", "stand too near an edge for their meters to tell")
	add(names(states, func(s railState) bool { return s.after == capture.NoData }), "was not judged under load", "were not judged under load")
	add(names(states, func(s railState) bool { return s.after != capture.NoData && s.indicated }), "was read with a meter of no stated accuracy", "were read with meters of no stated accuracy")
	if n := t.standingAlarms(); n > 0 {
		out = append(out, count(n, "alarm stands", "alarms stand")+" open")
	}
	switch s := t.d.Soak; {
	case s == nil:
		out = append(out, "no soak was run")
	case !s.Passed || s.Failures > 0:
		out = append(out, "the soak was not passed")
	}
	return out
}

func (t teller) standingAlarms() int {
	n := 0
	for _, a := range t.d.Alarms {
		if a.Standing() && a.Kind != "auto-off" { // a meter's, not the set's
			n++
		}
	}
	return n
}

// headline says the news in one line, from the evidence alone.
func (t teller) headline() string {
	states := t.states()
	restored := names(states, func(s railState) bool { return s.failedBefore && s.after == capture.Pass })
	broken := names(states, func(s railState) bool { return s.failedBefore && s.after != capture.Pass })
	outside := names(states, func(s railState) bool { return s.after == capture.Fail })
	inside := names(states, func(s railState) bool { return s.after == capture.Pass })
	measured := names(states, func(s railState) bool { return s.measured })
	fit := len(t.obstacles()) == 0
	ending := ", not yet fit to sign off"
	if fit {
		ending = ", soak passed"
	}
	switch {
	case t.d.Broken != "":
		return "Record changed after it was written, nothing may be concluded"
	case len(states) == 0:
		return "No rails named, nothing measured"
	case len(measured) == 0:
		return "Nothing measured yet"
	case len(outside) > 0:
		return capture.Listed(outside) + " outside" + ending
	case len(broken) > 0:
		return capture.Listed(broken) + " failed as found" + ending
	case len(restored) > 0:
		return capture.Listed(restored) + " restored" + ending
	case len(inside) == len(states) && len(states) > 1:
		return "All " + number(len(states)) + " rails inside" + ending
	case len(inside) > 0:
		return capture.Listed(inside) + " inside" + ending
	}
	return "Measured" + ending
}

// lead is the story in a few sentences: as found, what was concluded, how it
// stands, and what is missing.
func (t teller) lead() []string {
	var out []string
	if s := t.foundLead(); s != "" {
		out = append(out, s)
	}
	for _, e := range t.d.Entries {
		if e.Act.Verb == capture.ActFinding {
			out = append(out, sentence(e.Text))
		}
	}
	if s := t.insideNow(); s != "" && t.d.Broken == "" {
		out = append(out, s)
	}
	if t.d.Soak != nil {
		out = append(out, t.soakLead())
	}
	out = append(out, t.strays()...)
	if o := t.obstacles(); len(o) > 0 {
		out = append(out, "Not fit to sign off: "+sentence(strings.Join(o, "; ")))
	}
	return out
}

func (t teller) insideNow() string {
	states := t.states()
	inside := names(states, func(s railState) bool { return s.after == capture.Pass })
	switch {
	case len(inside) == 0:
		return ""
	case len(inside) == len(states) && len(states) > 2:
		return "All " + number(len(inside)) + " rails were inside their bands under load."
	case len(inside) == 1:
		return inside[0] + " was inside its band under load."
	}
	return capture.Listed(inside) + " were inside their bands under load."
}

func (t teller) soakLead() string {
	s := t.d.Soak
	out := "The soak lasted " + span(s.To.Sub(s.From))
	if s.To.IsZero() {
		out = "The soak was still under way"
	}
	raised := t.toldWithin(s.From, s.To)
	switch {
	case raised > 0 && s.Failures > 0 && s.Failures != raised:
		out += ", raised " + count(raised, "alarm", "alarms") + " and saw " + count(s.Failures, "failure", "failures")
	case raised > 0:
		out += " and raised " + count(raised, "alarm", "alarms")
	case s.Failures > 0:
		out += " and saw " + count(s.Failures, "failure", "failures")
	case s.Passed:
		out += " without an alarm"
	}
	if s.Passed && s.Failures == 0 {
		return out + ": passed."
	}
	if s.Watched <= 0 {
		return out + ", not watched: not judged."
	}
	return out + ": not passed."
}

// toldWithin counts the alarms of a span that somebody was told of, as the
// failures of a soak are counted: what followed from another is not one more.
func (t teller) toldWithin(from, to capture.Instant) int {
	n := 0
	for _, a := range t.d.Alarms {
		if a.Raised >= from && (to.IsZero() || a.Raised <= to) && a.Untold() == "" && t.trip(a) < 0 {
			n++
		}
	}
	return n
}
