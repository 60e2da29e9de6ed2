package cli

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// What a verdict rests on stands behind it: overdue before indicated, the
// probability only where an uncertainty is stated.
func TestVerdictsAreShownWithTheirNotes(t *testing.T) {
	for want, v := range map[string]capture.Verdict{
		"Inside (inside with probability 0.9973; leads not nulled)": {Outcome: capture.Pass, Say: "Inside", Uncertainty: .002, Probability: .9973, Note: "leads not nulled"},
		"Inside (inside with probability above 0.9999)":             {Outcome: capture.Pass, Say: "Inside", Uncertainty: .002, Probability: 1},
		"Inside (indicated only: its calibration was overdue)":      {Outcome: capture.Pass, Say: "Inside", Overdue: true, Indicated: true, Probability: .5},
		"Outside (indicated only: no accuracy is known for it)":     {Outcome: capture.Fail, Say: "Outside", Indicated: true},
		"Reads": {Outcome: capture.Pass, Say: "Reads"},
		"":      {Outcome: capture.NoData, Say: "No reading", Note: "x"},
	} {
		v.Kind = "band"
		var b strings.Builder
		showVerdicts(&b, capture.Dossier{Rails: []capture.RailEvidence{{Rail: capture.Rail{Name: "+5 V logic"}, Verdicts: []capture.Verdict{v}}}})
		got := strings.TrimSpace(b.String())
		if want != "" {
			want = "rule  +5 V logic  band  " + want
		}
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A verdict of an output names the output and what hangs on it, and no rail alone.
func TestVerdictsOfOutputs(t *testing.T) {
	v := capture.Verdict{Kind: "found off", Outcome: capture.Fail, Say: "supply switched its output off by itself"}
	var b strings.Builder
	showVerdicts(&b, capture.Dossier{Outputs: []capture.OutputEvidence{
		{Output: "supply", Rails: []string{"+5 V logic", "+12 V audio"}, Verdict: v}, {Output: "psu/2", Verdict: capture.Verdict{Kind: v.Kind, Say: "as it was switched"}},
	}})
	if got, want := strings.TrimSpace(b.String()), "rule  supply (+5 V logic, +12 V audio)  found off  supply switched its output off by itself"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
