package web

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/chart"
)

// When a rail was without power is told by stages and outputs; a rail that fell
// while an output was off was fed from elsewhere.
func TestColdSpans(t *testing.T) {
	at := func(s int) capture.Instant {
		return capture.InstantOf(time.Date(2031, 3, 12, 10, 0, s, 0, time.UTC))
	}
	out := func(s int, subject, text string) capture.Entry {
		return capture.Entry{At: at(s), Act: capture.Act{Verb: capture.ActOutput, Subject: subject, Text: text}}
	}
	fell := []capture.Transition{{Rail: "+5 V logic", Kind: "missing", Raised: at(25)}}
	for name, c := range map[string]struct {
		entries []capture.Entry
		past    []capture.Transition
		want    []chart.Span
	}{
		"stages":                    {nil, nil, []chart.Span{{From: at(0), To: at(10)}}},
		"off and on":                {[]capture.Entry{out(20, "psu", "switching off"), out(21, "psu", "off"), out(30, "psu", "on")}, nil, []chart.Span{{From: at(0), To: at(10)}, {From: at(20), To: at(30)}}},
		"one of two goes on again":  {[]capture.Entry{out(20, "psu/1", "off"), out(21, "psu/2", "off"), out(30, "psu/1", "on")}, nil, []chart.Span{{From: at(0), To: at(10)}, {From: at(20)}}},
		"all of both":               {[]capture.Entry{out(20, "psu", "off"), out(30, "psu/1", "on")}, nil, []chart.Span{{From: at(0), To: at(10)}, {From: at(20), To: at(30)}}},
		"nobody knows that it is":   {[]capture.Entry{out(20, "psu", "switching off"), out(22, "psu", "not confirmed off")}, nil, []chart.Span{{From: at(0), To: at(10)}, {From: at(20), To: at(22)}}},
		"fed from elsewhere, falls": {[]capture.Entry{out(20, "psu", "off")}, fell, []chart.Span{{From: at(0), To: at(10)}, {From: at(20), To: at(25)}}},
	} {
		v := &view{Job: live.JobView{Entries: c.entries, Past: c.past, Stages: []capture.StageSpan{{Stage: capture.ColdChecks, From: at(0), To: at(10)}, {Stage: capture.LiveChecks, From: at(10)}}}}
		if got := v.coldSpans("+5 V logic"); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// The bench and the page of a rail call a dead rail in cold checks no fault, and the
// same figure under power one.
func TestDeadRailInColdChecksIsNoFault(t *testing.T) {
	now := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
	rail := capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	for name, c := range map[string]struct {
		stage capture.Stage
		volts float64
		tone  tone
		say   string
	}{
		"dead in cold checks":       {capture.ColdChecks, 0.002, nowhere, "+5 V logic: without power"},
		"fed in cold checks":        {capture.ColdChecks, 4.6, low, "+5 V logic: low by 0.3 V"},
		"dead under power":          {capture.LiveChecks, 0.002, low, "+5 V logic: low by 4.9 V"},
		"too much in cold checks":   {capture.ColdChecks, 5.6, high, "+5 V logic: high by 0.5 V"},
		"dead while it is isolated": {capture.Isolate, 0.002, nowhere, "+5 V logic: without power"},
	} {
		last := &live.Last{At: now, Reading: capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: c.volts, Resolution: 0.1}}
		job := live.JobView{Sheet: capture.Sheet{Job: "AB-0147"}, Stage: c.stage, Stages: []capture.StageSpan{{Stage: c.stage, From: now.Add(-time.Hour)}}, Rails: []live.RailView{{Rail: rail, Live: true, Volts: last}}}
		channels := []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: time.Second}, Job: "AB-0147", Selected: true, Last: last, LastGood: now}}
		v := newView("rail", Model{Snapshot: live.Snapshot{Now: now, Jobs: []live.JobView{job}, Channels: channels}, Rail: "+5 V logic"})
		if got := v.Lanes[0].Tone; got != c.tone {
			t.Errorf("%s: %s", name, got)
		}
		if got := strings.ReplaceAll(v.Say, nbsp, " "); got != c.say {
			t.Errorf("%s: the page says %q", name, got)
		}
		if (v.Rail.What == "") != (c.tone == nowhere) {
			t.Errorf("%s: the order is %q %q", name, v.Rail.What, v.Rail.Then)
		}
	}
}

// A rail whose probe was taken off shows what it was found to be cold, with its time and
// age, and from when that says nothing of now; one that was never judged says nothing.
func TestColdVerdictStaysWithoutAProbe(t *testing.T) {
	now := capture.InstantOf(time.Date(2031, 3, 12, 10, 12, 0, 0, time.UTC))
	at := now.Add(-10 * time.Minute)
	for name, c := range map[string]struct {
		held            capture.HeldWord
		word, more, age string
	}{
		"judged":       {capture.HeldWord{Outcome: capture.Pass, Say: "4.67 kΩ: no short", At: at}, "Judged cold", "4.67 kΩ: no short, at 10:02", "no probe on it, judged 10 min ago"},
		"power since":  {capture.HeldWord{Outcome: capture.Pass, Say: "4.67 kΩ: no short", At: at, Since: now.Add(-time.Minute), Why: "supply was switched on"}, "Judged cold", "not judged since 10:11, when supply was switched on", "10 min ago"},
		"never judged": {capture.HeldWord{}, "Not measured", "", "no probe on it"},
	} {
		rv := live.RailView{Rail: capture.Rail{Name: "+5 V logic", Nominal: 5, ShortBelow: 5}, Verdicts: []capture.Verdict{{Kind: "short", Outcome: capture.NoData, Held: c.held}}}
		v := &view{zone: time.UTC}
		v.snap = live.Snapshot{Now: now}
		l := v.lane(rv)
		plain := strings.NewReplacer(nbsp, " ").Replace
		if l.Word != c.word || !strings.Contains(plain(l.More), c.more) || !strings.Contains(plain(l.Age), c.age) || l.Tone != nowhere {
			t.Errorf("%s: %q, %q, %q", name, l.Word, l.More, l.Age)
		}
	}
}
