package web

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// The page of a rail that the sheet feeds from one output says what is off, and is not
// told by another one that is.
func TestUnfedByItsOwnOutput(t *testing.T) {
	now := capture.InstantOf(time.Date(2031, 3, 12, 10, 0, 0, 0, time.UTC))
	for name, c := range map[string]struct{ fed, off, want string }{
		"its own":            {"psu/1", "psu/1", "psu/1 is off"},
		"another":            {"psu/1", "psu/2", ""},
		"all of its supply":  {"psu/1", "psu", "psu is off"},
		"nobody knows which": {"", "psu/2", "psu/2 is off"},
		"by the mains":       {"mains", "psu", ""},
	} {
		rail := capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, FedFrom: c.fed}
		rv := live.RailView{Rail: rail, Volts: &live.Last{At: now, Reading: capture.Reading{Value: 0.01}}}
		job := live.JobView{Sheet: capture.Sheet{Rails: []capture.Rail{rail}}, Off: []capture.OffSpan{{Output: c.off, From: now}}}
		v := &view{Job: job, snap: live.Snapshot{Instruments: []live.InstrumentView{{Info: capture.InstrumentInfo{Name: "psu"}}}}}
		if got := v.unfed(rv); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
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
		job := live.JobView{Sheet: capture.Sheet{Job: "AB-0147"}, Stage: c.stage, Off: offIn(c.stage, now.Add(-time.Hour)), Rails: []live.RailView{{Rail: rail, Live: true, Volts: last}}}
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

// offIn is what a job in a stage knows of being without power.
func offIn(stage capture.Stage, from capture.Instant) []capture.OffSpan {
	var off capture.PowerOff
	off.Act(from, capture.Act{Verb: capture.ActStage, Stage: stage})
	return off.Spans()
}
