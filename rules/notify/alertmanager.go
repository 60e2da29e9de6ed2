package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// ResendEvery is how often an Alertmanager is told what still holds, unless the
// configuration says otherwise.
const ResendEvery = time.Minute

// standsFor is how many resends may be missed before an alert ends by itself:
// each says that it ends then, as Prometheus' own sender does with its four
// resend delays, whatever resolve_timeout the Alertmanager has.
const standsFor = 4

// Alertmanager keeps the alerts of an Alertmanager (API v2, POST
// /api/v2/alerts) equal to the bench's alarms: those whose condition is present
// and that nothing mutes. It says all of them again each time, so a restart or
// a loss mends itself; what ends is said with endsAt. When the daemon ends, its
// alerts run out by themselves.
//
// It belongs to its lane's goroutine: not safe for concurrent use.
type Alertmanager struct {
	name, url string
	client    *http.Client
	every     time.Duration
	least     capture.Severity
	bench     string
	address   func() string
	open      func() []Message // nil: only what Notify brought is known

	firing map[string]alert // by job and alarm
	ended  map[string]alert // whose end has not been taken yet
}

// alert is an item of the body; the names are the API's.
type alert struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     time.Time         `json:"startsAt"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

func openAlertmanager(c Config, env Env) (Notifier, error) {
	a := &Alertmanager{
		name: c.Name, url: strings.TrimSuffix(c.URL, "/") + "/api/v2/alerts", client: newClient(or(c.Timeout, WebhookTimeout)),
		every: or(c.Resend, ResendEvery), least: c.severity(), bench: env.Bench, address: env.Address, open: env.Open,
		firing: map[string]alert{}, ended: map[string]alert{},
	}
	if a.name == "" {
		a.name = "alertmanager " + redacted(c.URL)
	}
	return a, nil
}

func checkAlertmanager(c Config) []error {
	errs := checkURL(c, "an Alertmanager needs its address, for example http://127.0.0.1:9093")
	if u, err := url.Parse(c.URL); err == nil && strings.HasSuffix(strings.TrimSuffix(u.Path, "/"), "/api/v2/alerts") {
		errs = append(errs, errors.New("url: leave /api/v2/alerts out: it is added"))
	}
	if c.Resend != 0 && (c.Resend < time.Second || c.Resend > 10*time.Minute) {
		errs = append(errs, fmt.Errorf("resend: %s is not between 1s and 10m", c.Resend))
	}
	return errs
}

// Name returns the notifier's name.
func (a *Alertmanager) Name() string { return a.name }

// Bound is how long an attempt may take.
func (a *Alertmanager) Bound() time.Duration { return a.client.Timeout }

// Every is how often what holds is said again.
func (a *Alertmanager) Every() time.Duration { return a.every }

// Wants takes every step of every alarm that is grave enough: a mute ends an
// alert too.
func (a *Alertmanager) Wants(t capture.Transition) bool { return t.Severity >= a.least }

// Close lets idle connections go. What fires stays to run out by itself: that
// nobody watches any more is no good news.
func (a *Alertmanager) Close() error {
	a.client.CloseIdleConnections()
	return nil
}

// Notify takes one step and posts everything that holds or has just ended.
func (a *Alertmanager) Notify(ctx context.Context, m Message) error {
	if m.Test {
		return a.post(ctx, []alert{a.trial(m)})
	}
	key := m.Job + "\x00" + m.Alarm.Alarm
	_, fires := a.firing[key]
	switch {
	case holds(m.Alarm):
		a.firing[key] = a.alertOf(m)
		delete(a.ended, key)
	case fires:
		a.end(key)
	case m.Alarm.From.IsActive() && m.Alarm.Muted == "" && a.ended[key].Labels == nil:
		// It came and went before anything could be said, or an earlier daemon
		// said that it is there.
		a.ended[key] = a.alertOf(m)
	}
	return a.say(ctx)
}

// holds reports whether an alarm is an alert of the Alertmanager.
func holds(t capture.Transition) bool { return t.To.IsActive() && t.Muted == "" }

// Refresh looks what is open now and says it again.
func (a *Alertmanager) Refresh(ctx context.Context) error {
	if a.open != nil {
		now := map[string]alert{}
		for _, m := range a.open() {
			if holds(m.Alarm) && m.Alarm.Severity >= a.least {
				now[m.Job+"\x00"+m.Alarm.Alarm] = a.alertOf(m)
			}
		}
		for key := range a.firing {
			if _, still := now[key]; !still {
				a.end(key)
			}
		}
		a.firing = now
	}
	return a.say(ctx)
}

func (a *Alertmanager) end(key string) {
	a.ended[key] = a.firing[key]
	delete(a.firing, key)
}

// say posts what fires, with an end in the future, and what has ended. What
// has ended is forgotten when it was taken.
func (a *Alertmanager) say(ctx context.Context) error {
	now := time.Now()
	var list []alert
	for _, key := range slices.Sorted(maps.Keys(a.firing)) {
		list = append(list, a.firing[key].until(now, now.Add(standsFor*a.every)))
	}
	for _, key := range slices.Sorted(maps.Keys(a.ended)) {
		list = append(list, a.ended[key].until(now, now))
	}
	if len(list) == 0 {
		return nil
	}
	err := a.post(ctx, list)
	if err == nil || errors.Is(err, ErrPermanent) {
		clear(a.ended)
	}
	return err
}

// until gives an alert its end. An alert may not begin after it: bench time may
// be ahead of the Alertmanager's.
func (a alert) until(now, end time.Time) alert {
	if a.StartsAt.After(now) {
		a.StartsAt = now
	}
	a.EndsAt = end
	return a
}

func (a *Alertmanager) post(ctx context.Context, list []alert) error {
	body, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("write alerts: %w: %w", ErrPermanent, err)
	}
	return post(ctx, a.client, a.url, body, http.Header{"Content-Type": {"application/json"}})
}

// alertOf writes an alarm as an alert. Labels that are empty are left out: the
// Alertmanager takes them for absent.
func (a *Alertmanager) alertOf(m Message) alert {
	t := m.Alarm
	out := alert{
		Labels: filled(map[string]string{
			"alertname": or(t.Kind, "alarm"), "bench": or(m.Bench, a.bench), "job": m.Job, "rail": t.Rail, "rule": t.Rule, "severity": t.Severity.String(),
		}),
		Annotations: filled(map[string]string{"say": m.Say(), "advice": t.Advice, "value": figure(t), "alarm": t.Alarm}),
		StartsAt:    t.Raised.Time(),
	}
	if a.address != nil {
		if at := a.address(); at != "" {
			out.GeneratorURL = "http://" + at + "/alarms"
		}
	}
	return out
}

// trial is an alert that says it is a test, and ends by itself.
func (a *Alertmanager) trial(m Message) alert {
	now := time.Now()
	out := a.alertOf(m).until(now, now.Add(time.Minute))
	out.Labels["alertname"] = "test"
	out.StartsAt = now
	return out
}

func figure(t capture.Transition) string {
	if t.Unit == "" {
		return ""
	}
	return fmt.Sprintf("%.6g %s", t.Value, t.Unit)
}

func filled(m map[string]string) map[string]string {
	maps.DeleteFunc(m, func(_, v string) bool { return v == "" })
	return m
}
