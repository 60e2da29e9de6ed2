package notify

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"steadyrail/capture"
)

// posts is a transport that keeps what would have been posted.
type posts struct {
	mu   sync.Mutex
	got  [][]alert
	when []time.Time
	code int
}

func (p *posts) RoundTrip(r *http.Request) (*http.Response, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	var list []alert
	if err := json.NewDecoder(r.Body).Decode(&list); err != nil {
		return nil, err
	}
	p.got, p.when = append(p.got, list), append(p.when, time.Now())
	return &http.Response{StatusCode: or(p.code, 200), Body: io.NopCloser(strings.NewReader(""))}, nil
}

func alerts(t *testing.T, c Config, e Env) *Alertmanager {
	t.Helper()
	c.Kind = "alertmanager"
	n, err := c.Open(e)
	if err != nil {
		t.Fatal(err)
	}
	return n.(*chosen).Notifier.(*Alertmanager)
}

// What is open is said again before it would end by itself; what ends or is
// muted is ended; what was never said is not.
func TestAlertsAreSaidAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &posts{}
		m := message(1)
		var mu sync.Mutex
		open := []Message{}
		set := func(list ...Message) { mu.Lock(); open = list; mu.Unlock() }
		a := alerts(t, Config{URL: "http://am.example"}, Env{Bench: "east", Address: func() string { return "127.0.0.1:8470" }, Open: func() []Message { mu.Lock(); defer mu.Unlock(); return open }})
		a.client = &http.Client{Transport: p}
		d := New(Options{}, a)
		set(m)
		d.Send(m)
		time.Sleep(5*time.Minute + time.Second)
		synctest.Wait()
		if len(p.got) != 6 {
			t.Fatalf("said %d times in 5 min", len(p.got))
		}
		for i, list := range p.got {
			if len(list) != 1 || !list[0].EndsAt.Equal(p.when[i].Add(4*time.Minute)) || list[0].Labels["rail"] != "+5 V logic" || list[0].GeneratorURL != "http://127.0.0.1:8470/alarms" {
				t.Fatalf("post %d: %+v", i, list)
			}
			if i > 0 && p.when[i].Sub(p.when[i-1]) > 61*time.Second {
				t.Errorf("pause %s", p.when[i].Sub(p.when[i-1]))
			}
		}
		muted := m
		muted.Alarm.From, muted.Alarm.Muted = capture.Active, "muted by hand"
		set(muted)
		d.Send(muted)
		synctest.Wait()
		if last := p.got[len(p.got)-1]; len(p.got) != 7 || len(last) != 1 || !last[0].EndsAt.Equal(p.when[6]) {
			t.Fatalf("muted: %+v", last)
		}
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		if len(p.got) != 7 {
			t.Errorf("a muted alarm was said again: %+v", p.got[7:])
		}
		// One that is open though nobody brought it, as after a restart.
		set(message(3))
		time.Sleep(61 * time.Second)
		synctest.Wait()
		if last := p.got[len(p.got)-1]; len(p.got) != 8 || last[0].Annotations["alarm"] != message(3).Alarm.Alarm {
			t.Errorf("after a restart: %+v", last)
		}
		if err := d.Close(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

// An end that was not taken is said again until it is.
func TestEndIsNotForgotten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &posts{}
		a := alerts(t, Config{URL: "http://am.example", Least: "warning"}, Env{})
		a.client = &http.Client{Transport: p}
		d := New(Options{GiveUp: time.Minute}, a)
		m := message(1)
		d.Send(m)
		synctest.Wait()
		p.code = 503
		m.Alarm.From, m.Alarm.To = capture.Active, capture.Latched
		d.Send(m)
		time.Sleep(3 * time.Minute)
		p.mu.Lock()
		p.code = 200
		p.mu.Unlock()
		time.Sleep(2 * time.Minute)
		synctest.Wait()
		last := p.got[len(p.got)-1]
		if len(last) != 1 || last[0].EndsAt.After(time.Now()) {
			t.Errorf("last post %+v", last)
		}
		n := len(p.got)
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		if s := d.Stats()[0]; len(p.got) != n || s.Failed != 1 || !s.FailingSince.IsZero() {
			t.Errorf("%d posts after the end was taken, %+v", len(p.got)-n, s)
		}
		notice := message(2)
		notice.Alarm.Severity = capture.Notice
		d.Send(notice)
		_ = d.Close(t.Context())
		if len(p.got) != n {
			t.Error("a notice was sent where warnings are the least")
		}
	})
}

// A real Alertmanager lists the alarm, has it again after it lost its memory,
// and lists it no more when it has gone.
func TestRealAlertmanager(t *testing.T) {
	o := startOutside(t)
	t.Cleanup(http.DefaultClient.CloseIdleConnections)
	m := message(1)
	m.Alarm.At = capture.InstantOf(time.Now().Add(-time.Second))
	m.Alarm.Raised, m.Alarm.Advice = m.Alarm.At, "Look at the input of the stand-in."
	a := alerts(t, Config{URL: "http://" + o.address + "/"}, Env{Bench: "east", Address: func() string { return "127.0.0.1:8470" }})
	a.every = 100 * time.Millisecond
	d := New(Options{FirstWait: 10 * time.Millisecond, LongWait: 100 * time.Millisecond}, a)
	defer d.Close(context.Background())
	d.Send(m)
	o.until("the alarm is listed", func() bool { return len(o.alerts("active=true")) == 1 })
	got := o.alerts("")[0]
	for key, want := range map[string]string{"alertname": "collapse", "bench": "east", "job": "AB-0147", "rail": "+5 V logic", "rule": "collapse +5 V logic", "severity": "urgent"} {
		if got.Labels[key] != want {
			t.Errorf("label %s is %q, want %q", key, got.Labels[key], want)
		}
	}
	if got.Annotations["say"] != m.Say() || got.Annotations["advice"] != m.Alarm.Advice || got.Annotations["value"] != "3.087 V" || got.GeneratorURL != "http://127.0.0.1:8470/alarms" {
		t.Errorf("listed %+v", got)
	}
	if d := got.StartsAt.Sub(m.Alarm.At.Time()); d.Abs() > time.Millisecond {
		t.Errorf("starts %s beside the alarm", d)
	}
	o.stop()
	o.start("second")
	o.until("it is there again", func() bool { return len(o.alerts("active=true")) == 1 })
	m.Alarm.From, m.Alarm.To = capture.Heard, capture.LatchedHeard // people are not told this; the Alertmanager is
	d.Send(m)
	o.until("it is resolved", func() bool { return len(o.alerts("")) == 0 })
	if _, err := d.Test(t.Context(), a.Name(), TestMessage("east", m.Alarm.At, nil)); err != nil {
		t.Error(err)
	}
	o.until("the test is listed", func() bool {
		list := o.alerts("")
		return len(list) == 1 && list[0].Labels["alertname"] == "test" && strings.Contains(list[0].Annotations["say"], "nothing has happened")
	})
}
