package app_test

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/rules/notify"
)

// told is the part of a webhook's body that these tests look at.
type told struct {
	Key, Bench, Job, Rail, Kind, State, Was, Sentence, Severity string
	Value                                                       *float64
}

// receiver is a webhook server that keeps what it is told.
func receiver(t testing.TB) (url string, got chan told) {
	t.Helper()
	got = make(chan told, 100)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var m told
		b, err := io.ReadAll(r.Body)
		if err == nil {
			err = json.Unmarshal(b, &m)
		}
		if err != nil {
			t.Errorf("webhook body %q: %v", b, err)
		}
		got <- m
	}))
	t.Cleanup(s.Close)
	return s.URL, got
}

// next waits for the message about +5 V. The rail that hangs on it may be told
// of as well, when its meter saw the fall first.
func next(t testing.TB, got chan told, kind, state string) told {
	t.Helper()
	late := time.After(patience)
	for {
		select {
		case m := <-got:
			if m.Rail == five && m.Kind == kind && m.State == state {
				return m
			}
		case <-late:
			t.Fatalf("nobody was told of %s %s", kind, state)
		}
	}
}

// A fault on the bench comes out of the webhook, the terminal, the file, the
// screens and the metrics as the same alarm; its two acts end it; the file
// judged again says the same.
func TestFaultToAlarm(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	r := newRig(t, 5, func(c *configs.Config) { c.Notify = []notify.Config{hook(url)} })
	r.soak()
	r.fault("input joint", "5s")

	m := next(t, got, "collapse", "active")
	raised, _ := alarm(r.Snapshot(), "collapse", five)
	if res := r.act(capture.Act{Verb: capture.ActReset, Subject: raised.Rule}); !strings.Contains(res.Say, "has not gone") {
		t.Errorf("the latch of an alarm that lasts: %q", res.Say)
	}
	_, err := r.Act(t.Context(), "", capture.Act{Verb: capture.ActHeard, Subject: "colapse"})
	refused(t, "a mistyped alarm", err, dashboards.NotFound, raised.Alarm)
	if m.Job != jobID || m.Rail != five || m.Bench != "east" || m.Was != "normal" || m.Severity != "urgent" || m.Value == nil || *m.Value > 4.7 {
		t.Errorf("told %+v", m)
	}
	s := r.until("the alarm is on screen, latched", func(s live.Snapshot) bool {
		a, ok := alarm(s, "collapse", five)
		return ok && a.To == capture.Latched
	})
	a, _ := alarm(s, "collapse", five)
	if v := r.metric("steadyrail_alarms_total", `rule="`+a.Rule+`"`, `severity="urgent"`); v != "1" {
		t.Errorf("alarms_total %q", v)
	}
	if v := r.metric("steadyrail_alarm_active", `rule="`+a.Rule+`"`); v != "0" {
		t.Errorf("alarm_active %q while it only waits to be heard", v)
	}
	for _, verb := range []capture.Verb{capture.ActHeard, capture.ActReset} {
		r.act(capture.Act{Verb: verb, Subject: a.Alarm})
	}
	s = r.Snapshot()
	if _, open := alarm(s, "collapse", five); open {
		t.Error("heard and reset, it is still open")
	}
	j, _ := s.Job(jobID)
	if !slices.ContainsFunc(j.Past, func(p capture.Transition) bool { return p.Alarm == a.Alarm && p.By == "R. Hale" }) {
		t.Errorf("it is not among the past: %+v", j.Past)
	}
	r.stop()

	var states []capture.AlarmState
	for _, tr := range r.read(jobID).transitions {
		if tr.Alarm == a.Alarm {
			states = append(states, tr.To)
		}
	}
	want := []capture.AlarmState{capture.Active, capture.Latched, capture.LatchedHeard, capture.Normal}
	if !slices.Equal(states, want) {
		t.Errorf("on record %v, want %v", states, want)
	}
	if say := r.out.String(); !strings.Contains(say, m.Sentence) || !strings.Contains(say, jobID) {
		t.Errorf("the terminal says %q, the webhook %q", say, m.Sentence)
	}
}

// A receiver that is gone, one that is stuck and one that refuses hold up
// neither measuring nor each other, and the screens say what is wrong.
func TestReceiversThatFail(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	gone := httptest.NewServer(nil)
	gone.Close()
	release := make(chan struct{})
	stuck := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		select {
		case <-release:
		case <-r.Context().Done():
		}
	}))
	t.Cleanup(stuck.Close)
	t.Cleanup(func() { close(release) })
	cross := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusInternalServerError) }))
	t.Cleanup(cross.Close)

	r := newRig(t, 5, func(c *configs.Config) {
		for name, u := range map[string]string{"gone": gone.URL, "stuck": stuck.URL, "cross": cross.URL, "well": url} {
			c.Notify = append(c.Notify, notify.Config{Kind: "webhook", Name: name, URL: u, Timeout: 300 * time.Millisecond, GroupAfter: 1 << 20})
		}
	})
	r.soak()
	r.fault("input joint", "5s")
	next(t, got, "collapse", "active")
	s := r.until("three notifiers have a problem and one has none", func(s live.Snapshot) bool {
		n := 0
		for _, v := range s.Notifiers {
			if v.Problem != "" && v.Queued > 0 {
				n++
			}
		}
		return n == 3
	})
	for _, v := range s.Notifiers {
		want := map[string]string{"cross": "500", "gone": "refused", "stuck": ""}
		if text, fails := want[v.Name]; fails != (v.Problem != "") || !strings.Contains(v.Problem, text) {
			t.Errorf("%s: %+v", v.Name, v)
		}
	}
	before := r.ordinal(volts(clips[0].meter))
	r.until("measuring goes on", func(live.Snapshot) bool { return r.ordinal(volts(clips[0].meter)) > before+20 })

	// Each gets one last attempt; what is left then is said and not waited for.
	r.up = false
	if err := r.Stop(t.Context()); err != nil && !errors.Is(err, notify.ErrNotDelivered) {
		t.Errorf("stop: %v", err)
	}
	r.read(jobID)
}

// ordinal returns the newest ordinal of a channel.
func (r *rig) ordinal(ch capture.ChannelID) uint64 {
	c, ok := r.Snapshot().Channel(ch)
	if !ok || c.Last == nil {
		return 0
	}
	return c.Last.Reading.Ordinal
}

// hook is a webhook of the configuration.
// hook tells each alarm by itself, however many come at once: a test waits for
// one of them.
func hook(url string) notify.Config {
	return notify.Config{Kind: "webhook", Name: "shop", URL: url, GroupAfter: 1 << 20}
}
