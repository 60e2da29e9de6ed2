package report

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// trendStory is the clean job with what two clips tell of how their rails moved:
// one that drifts, and one that was watched too short.
func trendStory() capture.Dossier {
	d := clean()
	d.Rails[0].Trends = []capture.Trend{{Channel: "dmm/volts", From: from, To: to, N: 143195, Effective: 35798.7, Mean: 5.009, SD: .0021, Median: 5.0091, Low: 5.0056, High: 5.0126, RankError: .007,
		Blocks: 57, Block: 512 * time.Second, Slope: -.00041, SlopeLow: -.00052, SlopeHigh: -.0003, Tau: -.71, P: .0001, Cusum: from.Add(2 * time.Hour), Ewma: from.Add(3 * time.Hour),
		Curve: []capture.Steadiness{{Over: 64 * time.Second, Deviation: .00012, Terms: 448}, {Over: 128 * time.Second, Deviation: .00009, Terms: 446}, {Over: 256 * time.Second, Deviation: .00008, Terms: 442}, {Over: 512 * time.Second, Deviation: .0001, Terms: 434}, {Over: 1024 * time.Second, Deviation: .00018, Terms: 418}, {Over: 2048 * time.Second, Deviation: .0003, Terms: 386}},
		Say:   []string{"It moves downwards: chance alone does as much in fewer than 1 of 100 such watches. The meter and the room may move as well."}}}
	d.Rails[1].Trends = []capture.Trend{{Channel: "dmm2/volts", From: from, To: from.Add(30 * time.Second), N: 30, Effective: 12, Longer: true, Mean: 12.09, SD: .004, Median: 12.09, Low: 12.08, High: 12.1, Why: "watched too short", Say: []string{"Watched too short to tell whether it moves."}}}
	return d
}

func TestTheTrendIsPrinted(t *testing.T) {
	got := words(t, trendStory())
	for _, want := range []string{
		"How the rails moved", "143 195", "35 798 independent", "5.009 V", "5.006 V to 5.013 V", "−0.41 mV", "−0.52 mV to −0.30 mV", "−0.71", "below 0.01",
		"Allan deviation", "0.12 mV over 1 min", "It moves downwards", "CUSUM", "EWMA",
		"fewer than 12 independent", "too short", "Watched too short to tell whether it moves.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	if none := words(t, clean()); strings.Contains(none, "How the rails moved") {
		t.Error("a job without a watch has a section about it")
	}
}
