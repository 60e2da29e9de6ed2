package web

import (
	"os"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// What a technician found at the bench.

var dsp = capture.Rail{Name: "+3.3 V DSP", Nominal: 3.3, Target: 3.3, Bounds: capture.Bounds{Low: 3.2, High: 3.4}, Point: "TP3"}

// bench is a job in a stage, with one clipped rail whose meter reads value.
func bench(stage capture.Stage, value, resolution float64) Model {
	now := capture.InstantOf(time.Date(2026, 11, 25, 3, 19, 10, 0, time.UTC))
	last := &live.Last{At: now.Add(-100 * time.Millisecond), Reading: capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: value, Resolution: resolution}}
	job := live.JobView{
		Sheet: capture.Sheet{Job: "AB-0147"}, Stage: stage, StageSince: now.Add(-time.Minute),
		Stages: []capture.StageSpan{{Stage: capture.TakeIn, From: now.Add(-time.Hour)}, {Stage: stage, From: now.Add(-time.Minute)}},
		Rails:  []live.RailView{{Rail: dsp, Live: true, Volts: last, Placement: capture.Placement{Channel: "dmm/volts", Rail: dsp.Name, Point: "TP3", Hold: capture.Clipped}}},
	}
	return Model{Snapshot: live.Snapshot{Now: now, Jobs: []live.JobView{job},
		Channels: []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/volts", Every: 200 * time.Millisecond}}, {Info: capture.ChannelInfo{ID: "dmm2/volts", Every: time.Second}}}}}
}

func pageText(t *testing.T, page string, m Model) string {
	t.Helper()
	p, err := New()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := p.Render(&b, page, m); err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(b.String(), "&#43;", "+")
}

func TestSkippedStagesAreNotDone(t *testing.T) {
	m := bench(capture.LiveChecks, 3.3, .001)
	body := pageText(t, "bench", m)
	for _, w := range []string{
		`<li class="done"><a href="/job">take-in</a></li>`,
		`<li class="skipped" title="skipped"><a href="/walk"><s>cold checks</s><span class="unseen">, skipped</span></a></li>`,
		`<li class="skipped" title="skipped"><a href="/isolate"><s>isolate</s>`,
		`<li class="now" aria-current="step"><a href="/" aria-current="page">live checks</a></li>`, `<li class="ahead"><a href="/soak">soak</a></li>`,
	} {
		if !strings.Contains(body, w) {
			t.Errorf("no %s", w)
		}
	}
	sheet, err := os.ReadFile("assets/look.css")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(sheet), ".stages li.skipped::after { background: var(--paper); border: 2px dashed") {
		t.Error("a skipped stop is not hollow")
	}
}

func silentAlarm(m *Model, to capture.AlarmState, ago time.Duration) {
	raised := m.Snapshot.Now.Add(-ago)
	m.Snapshot.Jobs[0].Alarms = []capture.Transition{{Alarm: "a@1", Kind: "silent", Rail: dsp.Name, Severity: capture.Urgent, To: to, At: raised, Raised: raised,
		Say: "No reading on +3.3 V DSP for 3.1 s: dmm does not answer"}}
}

func TestBannerKeepsNoFrozenLength(t *testing.T) {
	m := bench(capture.Soak, 3.3, .001)
	silentAlarm(&m, capture.Active, 126*time.Second)
	for _, page := range []string{"bench", "alarms"} {
		body := pageText(t, page, m)
		_, banner, _ := strings.Cut(body, `<section class="shout"`)
		banner, _, _ = strings.Cut(banner, "</section>")
		// The name holds together on a phone, and what grows is not read out at every change.
		if !strings.Contains(banner, "<h1>No reading on +3.3"+nbsp+"V"+nbsp+"DSP</h1>") || strings.Contains(banner, "3.1") {
			t.Errorf("%s: %s", page, banner)
		}
		if !strings.Contains(banner, `Since 03:17:04, <span aria-live="off">2`+nbsp+`min</span>, not heard.`) {
			t.Errorf("%s: %s", page, banner)
		}
		if title, _, _ := strings.Cut(body, "</title>"); strings.Contains(title, "3.1") || !strings.Contains(title, "ALARM No reading on +3.3 V DSP ·") {
			t.Errorf("%s: %s", page, title)
		}
	}
	if body := plain(pageText(t, "bench", m)); strings.Contains(body, "3.1 s") || !strings.Contains(body, "One alarm open: No reading on +3.3 V DSP, not heard.") {
		t.Error("the sentence of the bench keeps the old length")
	}
	// What came back no longer lasts.
	silentAlarm(&m, capture.Returned, 126*time.Second)
	if body := pageText(t, "bench", m); strings.Contains(body, `aria-live="off"`) {
		t.Error("an alarm that came back still counts")
	}
}

// An alarm that is told anew stands in its place, with the new sentence and when
// it was told so.
func TestToldAnewOnThePages(t *testing.T) {
	m := bench(capture.Soak, 3.3, .001)
	silentAlarm(&m, capture.Active, 126*time.Second)
	a := &m.Snapshot.Jobs[0].Alarms[0]
	a.From, a.At, a.Say = capture.Heard, a.Raised.Add(66*time.Second), "No reading on +3.3 V DSP for 69 s: dmm is another instrument than was expected (458 is there, it was 457 before)"
	for _, page := range []string{"bench", "alarms"} {
		body := plain(pageText(t, page, m))
		for _, want := range []string{"Dmm is another instrument than was expected (458 is there, it was 457 before).", "ince 03:17:04", "told 03:18:10, not heard"} {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not say %q", page, want)
			}
		}
	}
}

func TestHeadlines(t *testing.T) {
	for _, c := range []struct{ news, rail, want string }{
		{"No reading on +3.3 V DSP for 3.1 s", "+3.3 V DSP", "No reading on +3.3~V~DSP"},
		{"No reading on supply for 5 s rail for 3.1 s", "supply for 5 s rail", "No reading on supply for 5~s rail"},
		{"+1.2 V core of the signal processor card collapsed", "+1.2 V core of the signal processor card", "+1.2~V core of the signal processor card collapsed"},
		{"+5 V logic reads again after 6.2 s of silence", "+5 V logic", "+5~V~logic reads again after 6.2~s of silence"},
		{"case at 71.4 °C", "", "case at 71.4~°C"}, {"4 Vendors", "", "4 Vendors"}, {"", "", ""},
	} {
		if got := strings.ReplaceAll(headline(c.news, c.rail), nbsp, "~"); got != c.want {
			t.Errorf("%q: %q", c.news, got)
		}
	}
	for d, want := range map[time.Duration]string{-time.Second: "0 s", 3900 * time.Millisecond: "3 s", 95 * time.Second: "1 min 35 s", 179 * time.Second: "2 min", 130 * time.Minute: "2 h 10 min"} {
		if got := plain(lasting(d)); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
}

func TestUnwatchedStageIsSaid(t *testing.T) {
	for stage, want := range map[capture.Stage]string{
		capture.TakeIn:     "Nothing is watched in take-in: rules about time need a live stage.",
		capture.ColdChecks: "Only shorts are watched in cold checks: rules about time need a live stage.",
		capture.Isolate:    "Only shorts are watched in isolate: rules about time need a live stage.",
		capture.StandIn:    "Nothing is watched in stand-in: rules about time need a live stage.",
		capture.Preset:     "Nothing is watched in preset: rules about time need a live stage.",
		capture.LiveChecks: "", capture.Trim: "", capture.WarmUp: "", capture.Soak: "", capture.SignOff: "",
	} {
		m := bench(stage, 3.3, .001)
		body := pageText(t, "bench", m)
		if want == "" {
			if strings.Contains(body, "watched") || !strings.Contains(body, "No alarm so far.") || !strings.Contains(body, `<p class="fig">None</p>`) {
				t.Errorf("%s: a live stage is called unwatched", stage)
			}
			continue
		}
		if !strings.Contains(body, want) || strings.Contains(body, "No alarm so far") || strings.Contains(body, `<p class="fig">None</p>`) {
			t.Errorf("%s: does not say %q", stage, want)
		}
		if !strings.Contains(pageText(t, "alarms", m), want) {
			t.Errorf("%s: the Alarms page does not say it", stage)
		}
		m.Snapshot.Jobs[0].Rails[0].Placement.Hold = capture.Touched
		if strings.Contains(pageText(t, "bench", m), "watched") {
			t.Errorf("%s: nobody expects a touched probe to be watched", stage)
		}
	}
}

func TestLaneNamesTheChannelOfItsReading(t *testing.T) {
	m := bench(capture.Soak, 3.3, .001)
	v := newView("bench", m)
	who := func(rv live.RailView) string { return plain(v.lane(rv).Who) }
	rv := m.Snapshot.Jobs[0].Rails[0]
	if got := who(rv); got != "TP3, dmm, every 200 ms" {
		t.Errorf("%q", got)
	}
	for ch, want := range map[capture.ChannelID]string{
		"dmm2/volts":           "dmm2, every 1 s; on it now: dmm at TP3",
		"dmm/second":           "dmm, second; on it now: dmm, volts at TP3",
		"by eye/volts AB-0147": "by eye; on it now: dmm at TP3",
	} {
		rv.Volts.Reading.Channel = ch
		if got := who(rv); got != want {
			t.Errorf("%s: %q", ch, got)
		}
	}
	rv.Live, rv.Volts.Reading.Channel = false, "by eye/volts AB-0147"
	if got := who(rv); got != "TP3, by eye" {
		t.Errorf("%q", got)
	}
	rv.Volts = nil
	if got := who(rv); got != "TP3" {
		t.Errorf("%q", got)
	}
}

func TestManyDigitsShrink(t *testing.T) {
	for _, c := range []struct {
		value, res float64
		class      string
	}{{3.3, .001, "value"}, {-12.14, .001, "value wide"}, {3.3, 1e-6, "value wider"}, {3.3, 1e-8, "value widest"}, {-12.14, 1e-8, "value widest"}} {
		if body := pageText(t, "bench", bench(capture.Soak, c.value, c.res)); !strings.Contains(body, `<p class="`+c.class+`" role="img"`) {
			t.Errorf("%g to %g is not drawn as %q", c.value, c.res, c.class)
		}
	}
	sheet, err := os.ReadFile("assets/look.css")
	if err != nil {
		t.Fatal(err)
	}
	// Every size of a lane's figures gives way, on a phone too.
	if n := strings.Count(string(sheet), "* var(--fit, 1))"); n != 5 {
		t.Errorf("%d of 5 sizes give way", n)
	}
}
