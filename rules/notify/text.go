package notify

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"regexp"
	"strings"
	"text/template"
	"time"

	"steadyrail/capture"
)

// The bounds of a template and of what it may make of one message.
const (
	longestTemplate = 16 << 10
	longestText     = 256 << 10
)

// Fields is what a template can name. Times are in the bench's zone, written
// after RFC 3339; figures are in the unit beside them.
type Fields struct {
	Test                   bool
	Bench, Job, Rail       string
	Rule, Kind, Alarm      string
	Severity, State, Was   string
	Sentence, Advice, Lost string // Lost is empty when every message before it arrived
	Value, Limit, Nominal  float64
	Unit, Channel          string
	Raised, At, Taken      string // Taken is empty when the deciding reading is not known
	Key                    string // the same for every attempt
	Link                   string // the daemon's page of alarms; empty when not known
	Group                  []Fields
	Active                 bool // the condition is present
}

func fieldsOf(m Message, zone *time.Location) Fields {
	if zone == nil {
		zone = time.UTC
	}
	when := func(at capture.Instant) string {
		if at == 0 {
			return ""
		}
		return at.Time().In(zone).Format(time.RFC3339)
	}
	t := m.Alarm
	f := Fields{
		Test: m.Test, Bench: m.Bench, Job: m.Job, Rail: t.Rail, Rule: t.Rule, Kind: t.Kind, Alarm: t.Alarm,
		Severity: t.Severity.String(), State: t.To.String(), Was: t.From.String(), Sentence: m.Say(), Advice: t.Advice, Lost: m.Lost.Say(),
		Value: t.Value, Limit: t.Limit, Nominal: m.Rail.Nominal, Unit: t.Unit, Channel: string(t.Channel),
		Raised: when(t.Raised), At: when(t.At), Taken: when(m.Taken), Key: m.Key(), Link: m.Links["alarms"], Active: t.To.IsActive(),
	}
	for _, one := range m.Group {
		f.Group = append(f.Group, fieldsOf(one, zone))
	}
	return f
}

// Text is a template that has been tried. It is safe for concurrent use.
type Text struct {
	t    *template.Template
	zone *time.Location
}

// functions are what a template may call beside text/template's own: json
// writes a value as JSON, quotes included.
var functions = template.FuncMap{"json": func(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}}

// ParseText reads a template and tries it on sample messages: an alarm, its
// end, a storm and a test. The name stands in errors, with the line.
func ParseText(name, text string, zone *time.Location) (*Text, error) {
	if len(text) > longestTemplate {
		return nil, fmt.Errorf("%s: a template may be %d KiB long, not %d", name, longestTemplate>>10, len(text)>>10)
	}
	t, err := template.New(name).Option("missingkey=error").Funcs(functions).Parse(text)
	if err != nil {
		return nil, plain(err)
	}
	out := &Text{t, zone}
	for _, m := range samples() {
		if _, err := out.Of(m); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// readText is ParseText for a file.
func readText(file string, zone *time.Location) (*Text, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, longestTemplate+1))
	if err != nil {
		return nil, fmt.Errorf("read template: %w", err)
	}
	return ParseText(file, string(b), zone)
}

// plain drops the package's name from an error of text/template; the name, the
// line and what is wrong stay. A field that is not there is said in our words.
func plain(err error) error {
	text := strings.TrimPrefix(err.Error(), "template: ")
	if at := unknownField.FindStringSubmatch(text); at != nil {
		return fmt.Errorf("%s there is no field .%s: use %s", at[1], at[2], fieldNames())
	}
	return errors.New(text)
}

// unknownField is how text/template says that a value has no such field: where,
// and which.
var unknownField = regexp.MustCompile(`^(.+?:\d+:\d+:) executing .* can't evaluate field (\w+) in type`)

// fieldNames lists what a template can name.
func fieldNames() string {
	var list []string
	for _, f := range reflect.VisibleFields(reflect.TypeFor[Fields]()) {
		if f.IsExported() && !f.Anonymous {
			list = append(list, "."+f.Name)
		}
	}
	return strings.Join(list, ", ")
}

// Of returns what the template makes of a message.
func (t *Text) Of(m Message) (string, error) {
	var b bytes.Buffer
	if err := t.t.Execute(&limited{&b, longestText}, fieldsOf(m, t.zone)); err != nil {
		return "", plain(err)
	}
	return b.String(), nil
}

var errTooLong = fmt.Errorf("it makes more than %d KiB of one message", longestText>>10)

// limited refuses what goes beyond its room.
type limited struct {
	w    io.Writer
	room int
}

func (l *limited) Write(p []byte) (int, error) {
	if len(p) > l.room {
		return 0, errTooLong
	}
	l.room -= len(p)
	return l.w.Write(p)
}

// samples are the messages that a template is tried on.
func samples() []Message {
	const at = capture.Instant(1_800_000_000_000_000)
	came := Message{
		Bench: "east", Job: "AB-0147", Taken: at, Links: map[string]string{"alarms": "http://127.0.0.1:8470/alarms"},
		Rail: capture.Rail{Name: "+5 V logic", Nominal: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}},
		Alarm: capture.Transition{
			At: at, Raised: at, Alarm: capture.AlarmID("collapse +5 V logic", at), Rule: "collapse +5 V logic", Kind: "collapse", Rail: "+5 V logic",
			Severity: capture.Urgent, From: capture.Normal, To: capture.Active, Say: "+5 V logic collapsed: from 5.011 V to 3.087 V",
			Advice: "Look at the input of the stand-in.", Value: 3.087, Limit: 4.7, Unit: "V", Channel: "dmm/volts",
		},
	}
	went := came
	went.Alarm.At, went.Alarm.From, went.Alarm.To, went.Lost = at.Add(time.Second), capture.Active, capture.Latched, Loss{2, 1}
	return []Message{came, went, grouped([]Message{came, went}), TestMessage("east", at, nil)}
}

// body returns the template of body or body_file; nil: neither is there.
func (c Config) body(zone *time.Location) (*Text, error) {
	switch {
	case c.Body != "" && c.BodyFile != "":
		return nil, errors.New("body_file: give body or body_file, not both")
	case c.Body != "":
		t, err := ParseText("line", c.Body, zone)
		return t, under("body", err)
	case c.BodyFile != "":
		t, err := readText(c.BodyFile, zone)
		return t, under("body_file", err)
	}
	return nil, nil
}

// under puts the key before an error.
func under(key string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", key, err)
}
