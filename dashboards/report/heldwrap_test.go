package report

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// A verdict that was held says when and why in a sentence that may break:
// tied into one piece it pushes the table over the edge of the paper.
func TestAHeldVerdictMayBreakItsLine(t *testing.T) {
	d := clean()
	at := capture.Instant(1e18)
	d.Rails[0].Verdicts = append(d.Rails[0].Verdicts, capture.Verdict{Rule: "short +5 V logic", Kind: "short", Rail: "+5 V logic", Outcome: capture.Pass,
		Say: "150.0 Ω: no short", Value: 150, Resolution: .1, Unit: "ohm", N: 5, Held: capture.HeldWord{At: at, Since: at.Add(1), Why: "CN3 was lifted or put back"}})
	found := false
	for _, v := range (teller{d, options()}).verdicts() {
		if v.Rule != "short" || !strings.Contains(strings.ReplaceAll(v.Verdict.Word, nbsp, " "), "when CN3 was lifted or put back") {
			continue
		}
		found = true
		for _, piece := range strings.Split(v.Verdict.Word, " ") {
			if n := len([]rune(piece)); n > 24 {
				t.Errorf("%d characters that cannot break: %q", n, piece)
			}
		}
	}
	if !found {
		t.Error("the verdict does not say since when and why it was held")
	}
}
