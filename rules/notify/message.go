package notify

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"steadyrail/capture"
)

// Message is one thing to tell: a transition of an alarm with what a person
// needs to place it.
type Message struct {
	Alarm    capture.Transition
	Bench    string
	Job      string
	Sentence string          // as people read it; empty: the alarm's own
	Rail     capture.Rail    // zero when the alarm is about none
	Taken    capture.Instant // when the deciding reading was taken; 0: not known
	Links    map[string]string
	Test     bool      // nothing happened: somebody tries whether messages arrive
	Group    []Message // told as one with this, in order; this is the gravest of them
	Lost     Loss      // what this notifier did not deliver before
}

// Loss counts messages that nobody got: pushed out of a full queue, or given up.
type Loss struct {
	N      int `json:"messages"`
	Urgent int `json:"urgent"`
}

func (l Loss) minus(o Loss) Loss { return Loss{l.N - o.N, l.Urgent - o.Urgent} }

// Say returns a sentence, empty when nothing was lost.
func (l Loss) Say() string {
	switch {
	case l.N == 0:
		return ""
	case l.Urgent == 0:
		return fmt.Sprintf("Before this, %d messages did not arrive.", l.N)
	}
	return fmt.Sprintf("Before this, %d messages did not arrive, %d of them urgent.", l.N, l.Urgent)
}

// each returns the messages that are told as one.
func (m Message) each() []Message {
	if len(m.Group) > 0 {
		return m.Group
	}
	return []Message{m}
}

// TestMessage is a message about nothing, to try a notifier with. It is no
// alarm: its state is normal and it says that it is a test.
func TestMessage(bench string, at capture.Instant, links map[string]string) Message {
	say := "Test from bench " + bench + ": nothing has happened, messages arrive here."
	return Message{Bench: bench, Test: true, Links: links, Alarm: capture.Transition{
		At: at, Raised: at, Alarm: capture.AlarmID("test", at), Rule: "test", Kind: "test", Severity: capture.Notice, Say: say,
	}}
}

// Say returns the sentence.
func (m Message) Say() string {
	if m.Sentence != "" {
		return m.Sentence
	}
	return m.Alarm.Say
}

// Key names the message: the same for every attempt to deliver it, different
// for every other step of any alarm. It is plain ASCII.
func (m Message) Key() string {
	h := sha256.New()
	for _, one := range m.each() {
		fmt.Fprintf(h, "%s\x00%s\x00%d\x00%d\x00%d", one.Job, one.Alarm.Alarm, one.Alarm.At, one.Alarm.From, one.Alarm.To)
	}
	sum := h.Sum(nil)
	return hex.EncodeToString(sum[:16])
}

// Tells reports whether people are told of a transition: when an alarm comes,
// comes out of a mute, or is told anew because its cause turned, and when it goes before anyone has heard it. What a
// person did is not told back to them, and what is muted is told to nobody.
func Tells(t capture.Transition) bool {
	if t.Muted != "" {
		return false
	}
	return t.To == capture.Active || t.From == capture.Active && (t.To == capture.Returned || t.To == capture.Latched)
}

// payload is the body of a webhook, version 1. Fields are only ever added.
type payload struct {
	Version  int               `json:"version"`
	Key      string            `json:"key"`
	Bench    string            `json:"bench"`
	Job      string            `json:"job"`
	Rail     string            `json:"rail"`
	Rule     string            `json:"rule"`
	Kind     string            `json:"kind"`
	Alarm    string            `json:"alarm"`
	Severity capture.Severity  `json:"severity"`
	State    string            `json:"state"`
	Was      string            `json:"was"`
	Sentence string            `json:"sentence"`
	Advice   string            `json:"advice,omitempty"`
	Value    float64           `json:"value"`
	Limit    float64           `json:"limit"`
	Unit     string            `json:"unit,omitempty"`
	Nominal  float64           `json:"nominal,omitempty"`
	Bounds   *capture.Bounds   `json:"bounds,omitempty"`
	Channel  capture.ChannelID `json:"channel,omitempty"`
	Taken    string            `json:"taken,omitempty"`
	At       string            `json:"at"`
	Raised   string            `json:"raised"`
	Links    map[string]string `json:"links,omitempty"`
	Test     bool              `json:"test,omitempty"`
	Lost     *Loss             `json:"lost,omitempty"`
	Group    []Message         `json:"group,omitempty"`
}

// MarshalJSON writes the body of a webhook:
//
//	{"version":1, "key":"9f0c…", "bench":"east", "job":"AB-0147", "rail":"+5 V logic",
//	 "rule":"collapse +5 V logic", "kind":"collapse", "alarm":"collapse +5 V logic@1800000060001013",
//	 "severity":"urgent", "state":"active", "was":"normal",
//	 "sentence":"+5 V logic collapsed: from 5.011 V to 3.087 V", "advice":"…",
//	 "value":3.087, "limit":4.7, "unit":"V", "nominal":5, "bounds":{"low":4.9,"high":5.1},
//	 "channel":"dmm/volts", "taken":"2027-01-15T08:01:00.000913Z", "at":"…", "raised":"…", "links":{"rail":"…"}}
//
// "taken" is when the deciding reading was taken, "at" when it was answered,
// "raised" when this alarm began; all in UTC with microseconds. With "state"
// active and "was" active or heard, the same "alarm" is told anew: its cause
// turned, or it is muted no more. Put the sentence in place of the earlier one.
// In a storm several messages come as one: it is about the gravest, its
// "sentence" is about all, and "group" holds each as it would have come alone.
// "test" is true when somebody only tried, "lost" counts what did not arrive.
// Fields are only ever added.
func (m Message) MarshalJSON() ([]byte, error) {
	t := m.Alarm
	p := payload{
		Version: 1, Key: m.Key(), Bench: m.Bench, Job: m.Job, Rail: t.Rail, Rule: t.Rule, Kind: t.Kind, Alarm: t.Alarm,
		Severity: t.Severity, State: t.To.String(), Was: t.From.String(), Sentence: m.Say(), Advice: t.Advice,
		Value: t.Value, Limit: t.Limit, Unit: t.Unit, Channel: t.Channel, At: t.At.String(), Raised: t.Raised.String(), Links: m.Links,
	}
	if m.Rail.Name != "" {
		p.Nominal, p.Bounds = m.Rail.Nominal, &m.Rail.Bounds
	}
	if m.Taken != 0 {
		p.Taken = m.Taken.String()
	}
	p.Test, p.Group = m.Test, m.Group
	if m.Lost.N > 0 {
		p.Lost = &m.Lost
	}
	return json.Marshal(p)
}

// Notifier carries messages to one place. Notify is called by one goroutine at
// a time, returns when the message has arrived or has not, and soon after ctx
// is done. An error that wraps [ErrPermanent] is not tried again; a
// [*RetryError] says when to; any other is tried again.
type Notifier interface {
	Name() string
	Notify(ctx context.Context, m Message) error
}

// RetryError asks for the next attempt no sooner than After.
type RetryError struct {
	After time.Duration
	Err   error
}

// Error returns the text of the cause.
func (e *RetryError) Error() string { return e.Err.Error() }

// Unwrap returns the cause.
func (e *RetryError) Unwrap() error { return e.Err }
