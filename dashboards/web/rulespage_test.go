package web

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func drawn() capture.KindInfo {
	k := capture.KindInfo{Name: "band", About: "The mean lies within.", Follows: true, Defaults: []capture.KindDefault{{Rail: "+5 V logic", Say: "lowest 4.900 V"}}}
	for i := range 20 {
		k.Picture.Points = append(k.Picture.Points, capture.Point2{At: capture.Instant(1000 + i*100), Value: 5 - float64(i)*0.01, Good: i != 10})
	}
	k.Picture.Low, k.Picture.High, k.Picture.Spoke, k.Picture.Say = 4.9, 5.1, 2100, "+5 V logic is <low>"
	return k
}

func TestRulesPageDrawsWhatWasJudged(t *testing.T) {
	p, err := New()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := p.Render(&b, "rules", Model{KindInfo: []capture.KindInfo{drawn()}}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`id="kind-band"`, "lowest 4.900\u00a0V", "&lt;low&gt;", `class="vial"`, `class="spoke"`, "No job is open", `aria-current="page">Rules`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if n := strings.Count(b.String(), `class="trace"`); n != 2 {
		t.Errorf("%d stretches, the missing reading parts it in 2", n)
	}
}

func TestKindDrawingStaysInItsBox(t *testing.T) {
	d := drawKind(drawn())
	if d.SpokeX != "185.3" && d.SpokeX != "185.2" {
		t.Errorf("the judge spoke at x %s, 1100 of 1900 is 185.3 of 320", d.SpokeX)
	}
	if strings.Contains(strings.Join(d.Lines, " "), "-") {
		t.Errorf("a point lies outside: %v", d.Lines)
	}
}

// The uncertainty of the readings is drawn about them, and what the verdict says
// stands below.
func TestKindDrawingWithUncertainty(t *testing.T) {
	k := drawn()
	if d := drawKind(k); d.Doubt != "" {
		t.Errorf("drawn without one: %s", d.Doubt)
	}
	plain := drawKind(k).BandH
	k.Picture.Uncertainty, k.Picture.Verdict = 0.05, "4.89 V ± 0.05 V"
	d := drawKind(k)
	if n := len(strings.Fields(d.Doubt)); n != 2*19 || strings.Contains(d.Doubt, "-") {
		t.Errorf("%d corners of 19 good points, all in the box: %s", n, d.Doubt)
	}
	if d.BandH == plain {
		t.Error("the picture made no room for it")
	}
	p, err := New()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := p.Render(&b, "rules", Model{KindInfo: []capture.KindInfo{k}}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`class="doubt"`, "Its verdict then: <q>4.89 V ± 0.05 V</q>"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
}

// A kind that judges acts says so, and not that it waits for a clipped probe.
func TestKindsOfActsSayWhenTheyAlarm(t *testing.T) {
	if got := whenOf(capture.KindInfo{Acts: true}); strings.Contains(got, "clipped") || !strings.Contains(got, "in any stage") {
		t.Errorf("%q", got)
	}
	if got := whenOf(capture.KindInfo{Dead: true}); !strings.Contains(got, "without power") {
		t.Errorf("%q", got)
	}
}
