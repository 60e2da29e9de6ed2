package web

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// A mute is on the page with its end and its person, also while nothing is
// wrong, and can be ended there.
func TestMuteHasAnEndOnThePage(t *testing.T) {
	m := bench(capture.Soak, 3.3, .001)
	m.Unlocked = true
	job := &m.Snapshot.Jobs[0]
	job.Mutes = capture.Mutes{{Subject: "band " + dsp.Name + "@17", Until: m.Snapshot.Now.Add(20 * time.Minute), By: "R. Hale"}, {Subject: "over", Until: m.Snapshot.Now}}
	body := pageText(t, "alarms", m)
	for _, want := range []string{`<th scope="row">band +3.3 V DSP</th><td class="nowrap" data-h="until">03:39:10</td><td class="nowrap" data-h="left">20 min</td><td data-h="by">R. Hale</td>`, "End the mute"} {
		if !strings.Contains(strings.ReplaceAll(body, nbsp, " "), want) {
			t.Errorf("no %s\n%s", want, body)
		}
	}
	if strings.Contains(body, ">over<") {
		t.Error("a mute that has ended is shown")
	}
	m.Unlocked = false
	if strings.Contains(pageText(t, "alarms", m), "End the mute") {
		t.Error("who only looks can end it")
	}
}

func TestMutedAlarmSaysUntilWhen(t *testing.T) {
	for _, c := range []struct {
		muted string
		to    capture.AlarmState
		mutes capture.Mutes
		want  string
	}{
		{"muted by R. Hale", capture.Active, capture.Mutes{{Subject: dsp.Name, Until: 1, By: "R. Hale"}}, "muted until 03:20:10 by R. Hale"},
		{"muted", capture.Active, capture.Mutes{{Until: 1}}, "muted until 03:20:10"},
		{"muted", capture.Active, capture.Mutes{{Subject: "another", Until: 1}}, "muted"},
		{"muted by R. Hale", capture.Returned, nil, "came and went while it was muted"},
		{"+5 V logic feeds it", capture.Active, capture.Mutes{{Until: 1}}, "muted: +5 V logic feeds it"},
		{"it chatters: 5 times within a minute", capture.Active, nil, "muted: it chatters: 5 times within a minute"},
	} {
		m := bench(capture.Soak, 3.3, .001)
		for i := range c.mutes {
			c.mutes[i].Until = m.Snapshot.Now.Add(time.Minute)
		}
		silentAlarm(&m, c.to, time.Second)
		m.Snapshot.Jobs[0].Alarms[0].Muted, m.Snapshot.Jobs[0].Mutes = c.muted, c.mutes
		m.Unlocked = true
		body := pageText(t, "alarms", m)
		if !strings.Contains(body, ", "+c.want+".</span>") {
			t.Errorf("%+v: no %q", c, c.want)
		}
		if strings.Contains(body, `data-key="mute"`) {
			t.Errorf("%q can be muted again", c.muted)
		}
	}
	m := bench(capture.Soak, 3.3, .001)
	m.Unlocked = true
	silentAlarm(&m, capture.Active, time.Second)
	m.Snapshot.Jobs[0].Alarms[0].Rule = "silent " + dsp.Name
	if body := pageText(t, "alarms", m); strings.Count(body, `data-key="mute"`) != 1 || !strings.Contains(body, `value="silent +3.3 V DSP"><input type="hidden" name="minutes" value="15">`) {
		t.Error("an open alarm cannot be muted, or what fills the page can before it was heard")
	}
}

func TestFirstUpIsMarked(t *testing.T) {
	for _, c := range []struct {
		name string
		ms   []int // when each was raised; negative: it has gone
		want []string
	}{
		{"one", []int{0}, []string{""}},
		{"a storm", []int{400, 0, 900}, []string{"", "First of three alarms within 0.9 s", ""}},
		{"the same tick", []int{0, 0, 900}, []string{"", "", ""}},
		{"far apart", []int{0, 11000}, []string{"", ""}},
		{"two storms", []int{0, 100, 20000, 20200}, []string{"First of two alarms within 0.1 s", "", "First of two alarms within 0.2 s", ""}},
		{"gone is no storm", []int{-1, 400, 500}, []string{"", "First of two alarms within 0.1 s", ""}},
	} {
		var v view
		for _, ms := range c.ms {
			v.Alarms = append(v.Alarms, alarm{Active: ms >= 0, raised: capture.Instant(1e15 + int64(ms)*1000)})
		}
		v.firstUp()
		for i := range c.want {
			if got := strings.ReplaceAll(v.Alarms[i].First, nbsp, " "); got != c.want[i] {
				t.Errorf("%s: alarm %d: %q, want %q", c.name, i, got, c.want[i])
			}
		}
	}
}
