package report

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// judgedStory is the clean job with the final figures' budgets: a coarse
// handheld near an edge, a good meter, and one of which nothing is stated.
func judgedStory() capture.Dossier {
	d, room := clean(), 31.5
	rect := func(name string, half float64, source string) capture.Part {
		return capture.Part{Name: name, Value: half, Distribution: "rectangular", Divisor: 1.7320508075688772, Standard: half / 1.7320508075688772, Source: source}
	}
	d.Judged = []capture.Judged{
		{Rail: "+5 V logic", Stage: capture.Soak, Quantity: capture.DCVoltage, Channel: "pocket/volts", At: to, Value: 5.08, Resolution: .01, N: 300, Effective: 74.6, Range: 20,
			Parts: []capture.Part{rect("accuracy", .0454, "its manual, page 31"), rect("resolution", .005, "one count of the last digit"),
				{Name: "scatter", Value: .004, Distribution: "normal", Divisor: 8.637, Standard: .000463, Degrees: 299, Source: "the readings"}},
			Standard: .0264, Coverage: 2, Expanded: .0528, Outcome: capture.ConditionalPass, Say: "Cannot tell: 0.02 V from the edge, meter ± 0.05 V", Probability: .7204,
			GuardShare: .528, Notes: []string{"assumed 23 °C", "half the band is “cannot tell” with this meter (ratio 1.8:1)"}, Overdue: true},
		{Rail: "+12 V audio", Stage: capture.WarmUp, Quantity: capture.DCVoltage, Channel: "dmm2/volts", At: to, Value: 12.09, Resolution: .001, N: 5, Effective: 5, Range: 20,
			Parts:    []capture.Part{rect("accuracy", .002, "bench's own sheet, page 1"), {Name: "scatter", Value: .01, Distribution: "normal", Divisor: 2.23606797749979, Standard: .00447, Degrees: 4, Source: "the readings"}},
			Standard: .00462, Coverage: 2.87, Expanded: .01326, Outcome: capture.Pass, Say: "Inside", Probability: 1, NormalAssumed: true, Ambient: &room, GuardShare: .022},
		{Rail: "+3.3 V DSP", Stage: capture.LiveChecks, Quantity: capture.DCVoltage, Channel: "dmm3/volts", At: to, Value: 3.296, Resolution: .001, N: 1, Effective: 1, Outcome: capture.Pass, Say: "Inside", Indicated: true,
			Notes: []string{"no accuracy stated: indicated only"}},
	}
	d.Judged[0].Parts[0].Weight, d.Judged[1].Parts[1].Weight, d.Judged[1].Parts[0].Weight = .986, .936, .062
	return d
}

func TestTheBudgetIsPrinted(t *testing.T) {
	got := words(t, judgedStory())
	for _, want := range []string{
		"How the figures were judged", "ILAC-G8:09/2019", "Conditional pass, band", "probability of conformance 72 %", "probability of conformance above 99 % (normal assumed for scatter and leads)",
		"u = 26 mV, k = 2.00, U = 53 mV", "k = 2.87", "√3", "√74.5", "mean of 300, 74 of them independent", "indicated, calibration overdue", "Room 31.5 °C", "No accuracy stated: indicated only", "Shown inside, not judged with an uncertainty, band", "its manual, page 31",
		"+5 V logic: half the band is “cannot tell” with this meter", "+5 V logic: assumed 23 °C",
		"Accuracy makes 99 % of u²: a better meter or range would help, more readings would not", "Scatter makes 94 % of u²: more readings would help",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	if n := strings.Count(got, "normal assumed"); n != 1 {
		t.Errorf("normal assumed is said %d times, and holds once", n)
	}
	if none := words(t, emptyJob()); !strings.Contains(none, "No rail has a final figure") {
		t.Error("a job without figures has a budget")
	}
}

func TestChanceHasNoMoreDigitsThanAreKnown(t *testing.T) {
	for p, want := range map[float64]string{0: "below 1 %", 0.0099: "below 1 %", 0.01: "1 %", 0.7204: "72 %", 0.9899: "99 %", 0.9901: "above 99 %", 1: "above 99 %"} {
		if got := strings.ReplaceAll(chanceText(p), nbsp, " "); got != want {
			t.Errorf("%g: %q, want %q", p, got, want)
		}
	}
}
