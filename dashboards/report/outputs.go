package report

import "steadyrail/capture"

// onOutput finds what an alarm or rule of an output is about: a supply and the rails
// that hang on it. The rail on which such a rule stands says nothing.
func (t teller) onOutput(rule string) (capture.OutputEvidence, bool) {
	for _, o := range t.d.Outputs {
		if o.Verdict.Rule == rule {
			return o, true
		}
	}
	return capture.OutputEvidence{}, false
}

// outputRows are the verdicts of outputs, each with the rails that hang on it.
func (t teller) outputRows() (out []verdictRow) {
	for _, o := range t.d.Outputs {
		row := verdictRow{Rule: o.Verdict.Kind, Rail: o.Output, Verdict: judged(o.Verdict.Outcome, o.Verdict.Say)}
		if rails := t.hanging(o); rails != "" {
			row.Rail += " (" + rails + ")"
		}
		out = append(out, row)
	}
	return out
}

// hanging names the rails that hang on an output; empty: none is known to.
func (t teller) hanging(o capture.OutputEvidence) string {
	var rails []string
	for _, r := range o.Rails {
		rails = append(rails, named(r))
	}
	return capture.Listed(rails)
}

// outputFact says of an alarm of an output which rails hang on it.
func (t teller) outputFact(a capture.AlarmStory) string {
	o, is := t.onOutput(a.Rule)
	switch rails := t.hanging(o); {
	case !is:
		return ""
	case rails == "":
		return "No rail of this job is known to hang on " + o.Output + "."
	case len(o.Rails) == 1:
		return rails + " hangs on " + o.Output + "."
	default:
		return rails + " hang on " + o.Output + "."
	}
}
