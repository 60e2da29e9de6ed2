package report

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// What stands beside the failures: the rate of collapses beside the temperature,
// the worst minute of each rail, and what the trip of an alarm did.
func TestWhatStandsBesideTheFailures(t *testing.T) {
	d := fullStory()
	d.Rails[0].Soak = &capture.SoakFigure{Result: capture.Result{Rail: d.Rails[0].Rail.Name, Quantity: capture.DCVoltage, Channel: "dmm/volts", Value: 4.981, Resolution: .001, Uncertainty: .0052, At: to, Outcome: capture.ConditionalPass}, Window: time.Minute, Windows: 477, Inside: 475, Outside: 1}
	d.Points = []capture.Watch{{Channel: "thermo/celsius", Point: "stand-in case", N: 10, Resolution: .1, Heat: "6 collapses in 2 h above its median of 41.0 °C, 1 in 2 h below: chance alone does as much in 13 of 100 cases"}}
	d.Rules.Rules = append(d.Rules.Rules, capture.Rule{Name: d.Alarms[0].Rule, Kind: d.Alarms[0].Kind, Rail: d.Alarms[0].Rail, Trip: "supply"})
	d.Entries = append(d.Entries, capture.Entry{At: d.Alarms[0].Raised.Add(83 * time.Millisecond), Stage: capture.Soak, Act: capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off", By: capture.ByTrip, Value: .083}, Text: "off"})
	var b bytes.Buffer
	if err := HTML(&b, d, options()); err != nil {
		t.Fatal(err)
	}
	page := strings.NewReplacer("\u00a0", " ", "\u202f", " ", "&#43;", "+").Replace(b.String())
	for _, want := range []string{
		"stand-in case: 6 collapses in 2 h above its median of 41.0 °C", "The worst minute of each rail", `<td class="r">4.981 V</td>`, "475 inside, 1 outside", "Cannot tell",
		"The trip switched supply off, read back 83 ms after the reading.",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	d.Rules.Rules = nil
	if say := (teller{d, options()}).tripFact(d.Alarms[0]); say != "" {
		t.Errorf("no trip of this rail, and said %q", say)
	}
}
