package report

import "steadyrail/capture"

// stateWords says a step in the life of an alarm in plain words. Said is the
// sentence of the step before: an alarm that stays and has another one by now is
// told anew.
func stateWords(tr capture.Transition, said string) string {
	if why, ok := capture.UnwatchedIn(tr.Say); ok && tr.From.IsActive() && !tr.To.IsActive() {
		return "not watched any more: " + why
	}
	switch tr.To {
	case capture.Active:
		if tr.From.IsActive() && tr.Say != said {
			return "told anew: " + capture.TrueMinus(tr.Say)
		}
		return "raised"
	case capture.Heard:
		return "heard"
	case capture.Returned:
		return "went away unheard"
	case capture.Latched:
		return "went away, stays until reset"
	case capture.LatchedHeard:
		return "heard, stays until reset"
	}
	return "over"
}

func (t teller) alarmFacts(a capture.AlarmStory) []string {
	var out []string
	came := 0
	for _, tr := range a.Transitions {
		if tr.To.IsActive() && !tr.From.IsActive() {
			came++
		}
	}
	switch {
	case a.Cleared.IsZero():
		out = append(out, "The condition was still there when the record ended.")
	case came > 1:
		out = append(out, "It came "+times(came)+"; "+span(a.Cleared.Sub(a.Raised))+" after the first the condition was gone.")
	default:
		out = append(out, "The condition was gone "+span(a.Cleared.Sub(a.Raised))+" later.")
	}
	hang := t.outputFact(a)
	if r, ok := t.d.Sheet.Rail(a.Rail); ok && hang == "" && t.inVolts(a) {
		if low, high, n := lasted(r, a.Around); n > 0 {
			s := count(n, "reading", "readings") + " outside the band"
			if high > 0 {
				s += ", so it lasted between " + span(low) + " (first to last of them) and " + span(high) + " (last inside before to first inside after)"
			}
			out = append(out, capital(s)+".")
		}
	}
	if hang != "" {
		out = append(out, hang)
	}
	if trip := t.tripFact(a); trip != "" {
		out = append(out, trip)
	}
	if a.Heard.IsZero() {
		out = append(out, "Nobody has said that it was heard"+sinceAnew(a)+".")
	}
	return out
}

// sinceAnew limits what is said of not being heard, where somebody had heard an
// alarm before it was told anew.
func sinceAnew(a capture.AlarmStory) string {
	for _, tr := range a.Transitions {
		if tr.To == capture.Heard {
			return " since it was told anew"
		}
	}
	return ""
}

func times(n int) string {
	if n == 2 {
		return "twice"
	}
	return whole(n) + " times"
}
