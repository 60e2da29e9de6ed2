package web

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// The figure on the screen is the one that is judged: where the leads are taken off
// for the verdict they are off on the screen, which says so.
func TestOhmsAreShownAsJudged(t *testing.T) {
	read := capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: 0.48, Resolution: 0.01}
	for name, c := range map[string]struct {
		ver         capture.Verdict
		figure, say string
	}{
		"leads off":               {capture.Verdict{Kind: "short", Outcome: capture.Fail, Channel: "dmm/ohms", Value: 0.36, Resolution: 0.01, Leads: 0.12}, "0.36 Ω", "leads of 0.12 Ω taken off"},
		"not nulled":              {capture.Verdict{Kind: "short", Outcome: capture.Fail, Channel: "dmm/ohms", Value: 0.48, Resolution: 0.01}, "0.48 Ω", "the leads in it"},
		"of another meter":        {capture.Verdict{Kind: "short", Outcome: capture.Fail, Channel: "dmm2/ohms", Value: 0.36, Resolution: 0.01, Leads: 0.12}, "0.48 Ω", "the leads in it"},
		"in another range before": {capture.Verdict{Kind: "short", Outcome: capture.Fail, Channel: "dmm/ohms", Value: 0, Resolution: 0.001, Leads: 0.12}, "0.36 Ω", "leads of 0.12 Ω taken off"},
		"not judged yet":          {capture.Verdict{Kind: "short", Outcome: capture.NoData, Channel: "dmm/ohms", Leads: 0.12}, "0.36 Ω", "leads of 0.12 Ω taken off"},
		"leads below a digit":     {capture.Verdict{Kind: "short", Outcome: capture.NoData, Channel: "dmm/ohms", Leads: 0.009}, "0.48 Ω", "the leads in it"},
	} {
		now := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
		rail := live.RailView{Rail: capture.Rail{Name: "+5 V logic", Nominal: 5, ShortBelow: 1}, Live: true, Ohms: &live.Last{At: now, Reading: read}, Verdicts: []capture.Verdict{c.ver}}
		job := live.JobView{Sheet: capture.Sheet{Job: "AB-0147"}, Rails: []live.RailView{rail}}
		channels := []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/ohms", Quantity: capture.Resistance, Every: time.Second}, Job: "AB-0147", Selected: true, Last: rail.Ohms, LastGood: now}}
		v := newView("rail", Model{Snapshot: live.Snapshot{Now: now, Jobs: []live.JobView{job}, Channels: channels}, Rail: "+5 V logic"})
		plain := strings.NewReplacer(nbsp, " ").Replace
		if got := plain(v.Rail.Ohms); got != c.figure {
			t.Errorf("%s: the page of the rail shows %q", name, got)
		}
		if got := plain(v.Rail.OhmsNote); !strings.Contains(got, c.say) {
			t.Errorf("%s: the page of the rail says %q", name, got)
		}
		if got := plain(v.Rows()[0].Ohms); got != c.figure {
			t.Errorf("%s: the page of the job shows %q", name, got)
		}
		l := v.Lanes[0]
		if got := l.Number.Int + l.Number.Frac + l.Number.Loose; got != strings.Fields(c.figure)[0] {
			t.Errorf("%s: the bench shows %q", name, got)
		}
		if strings.Contains(plain(l.More), "taken off") != (c.ver.Leads > 0 && c.figure == "0.36 Ω") {
			t.Errorf("%s: the bench says %q", name, l.More)
		}
	}
}
