package notify

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"mime"
	"mime/quotedprintable"
	"strings"
	"time"

	"steadyrail/capture"
)

// longestSubject is where a subject is cut, in bytes; RFC 5322 allows lines of
// 998, and nobody reads more than the beginning.
const longestSubject = 200

// compose writes the mail (RFC 5322, MIME with quoted-printable text). All mails
// about one alarm form a thread: the first has an identity that follows from
// the alarm, the others answer to it. Header fields are written from cleaned
// text and encoded (RFC 2047), so that no name can begin a line of its own.
func (e *Email) compose(m Message, now time.Time) ([]byte, error) {
	subject, err := e.say(e.subject, m, ownSubject)
	if err != nil {
		return nil, err
	}
	if m.Test && !strings.Contains(subject, "Test") {
		subject = "Test: " + subject
	}
	text, err := e.say(e.body, m, e.ownBody)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	field := func(name, value string) { fmt.Fprintf(&b, "%s: %s\r\n", name, value) }
	field("Date", now.In(e.zone).Format(time.RFC1123Z))
	field("From", e.from.String())
	var to []string
	for _, a := range e.to {
		to = append(to, a.String())
	}
	field("To", strings.Join(to, ",\r\n "))
	field("Subject", mime.QEncoding.Encode("utf-8", clean(subject, longestSubject)))
	root := e.identity("alarm", m.Job+"\x00"+m.Alarm.Alarm)
	if first := m.Alarm.From == capture.Normal && len(m.Group) == 0; first && !m.Test {
		field("Message-ID", root)
	} else {
		field("Message-ID", e.identity("step", m.Key()))
		if !m.Test {
			field("In-Reply-To", root)
			field("References", root)
		}
	}
	field("Auto-Submitted", "auto-generated") // RFC 3834: no holiday note is to answer
	if m.Alarm.Severity == capture.Urgent && m.Alarm.To.IsActive() {
		field("Importance", "high")
	}
	field("MIME-Version", "1.0")
	field("Content-Type", "text/plain; charset=utf-8")
	field("Content-Transfer-Encoding", "quoted-printable")
	b.WriteString("\r\n")
	w := quotedprintable.NewWriter(&b)
	if _, err := w.Write([]byte(strings.ReplaceAll(text, "\r\n", "\n"))); err != nil {
		return nil, err
	}
	return b.Bytes(), w.Close()
}

func (e *Email) say(t *Text, m Message, own func(Message) string) (string, error) {
	if t == nil {
		return own(m), nil
	}
	return t.Of(m)
}

// identity makes a Message-ID that is the same for the same thing.
func (e *Email) identity(what, of string) string {
	sum := sha256.Sum256([]byte(of))
	_, domain, _ := strings.Cut(e.from.Address, "@")
	return "<" + what + "." + hex.EncodeToString(sum[:12]) + "@" + domain + ">"
}

// ownSubject is "Urgent: +5 V logic collapsed: ... (AB-0147)".
func ownSubject(m Message) string {
	s := lead(m.Alarm) + m.Say()
	if m.Job != "" {
		s += " (" + m.Job + ")"
	}
	return s
}

func (e *Email) ownBody(m Message) string {
	var b strings.Builder
	for _, one := range m.each() {
		t := one.Alarm
		fmt.Fprintf(&b, "%s%s\n", lead(t), one.Say())
		if t.Advice != "" {
			fmt.Fprintf(&b, "%s\n", t.Advice)
		}
		b.WriteString("\n")
		for _, line := range [][2]string{
			{"Bench", one.Bench}, {"Job", one.Job}, {"Rail", t.Rail}, {"Rule", t.Rule}, {"Severity", t.Severity.String()},
			{"Began", t.Raised.Time().In(e.zone).Format(time.DateTime + " -07:00")}, {"Page", one.Links["alarms"]},
		} {
			if line[1] != "" {
				fmt.Fprintf(&b, "%-10s%s\n", line[0], line[1])
			}
		}
		b.WriteString("\n")
	}
	if s := m.Lost.Say(); s != "" {
		b.WriteString(s + "\n")
	}
	return b.String()
}
