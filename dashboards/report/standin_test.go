package report

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// What was judged of a stand-in is a part of the report, with what the soak made
// of its estimate; without a judgement there is no such part.
func TestThePartThatStandsIn(t *testing.T) {
	d := clean()
	if strings.Contains(words(t, d), "The part that stands in") {
		t.Error("nothing was judged")
	}
	d.StandIns = []capture.StandInJudged{{
		At: to, Candidate: "step-down board <B>", Rail: "+5 V logic", Word: "cannot tell", Say: "Whether it may stand in cannot be told: heat.", Point: "stand-in case",
		Checks: []capture.StandInCheck{{Name: "headroom", Word: "fits", Say: "3.9 V are left."}, {Name: "heat", Word: "not stated", Say: "Not stated: cannot judge. Missing: load."}, {Name: "sense lines", Word: "not needed", Say: "The board does not ask for it."}, {Name: "loop stability", Word: "not checked", Say: "needs the loop measured"}},
		Soaked: &capture.StandInSoaked{Word: "fits", Say: "Estimated 61 °C, measured 58 °C."},
	}, {At: to, Candidate: "linear", Rail: "+5 V logic", Word: "does not fit", Say: "It may not."}}
	got := words(t, d)
	for _, want := range []string{"The part that stands in", "step-down board <B> on +5 V logic", "Estimated 61 °C, measured 58 °C", "Not stated: cannot judge. Missing: load", "Needs the loop measured", "local codes and licensed practice", "No point was named"} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	if strings.Contains(got, "The board does not ask for it") {
		t.Error("what was not needed is told")
	}
	if strings.Contains(html(t, d), "<B>") {
		t.Error("a name was taken for markup")
	}
}
