package notify

import (
	"bytes"
	"context"
	"errors"
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func TestMailArrives(t *testing.T) {
	for _, mode := range []string{"starttls", "implicit", "none"} {
		o := newOffice(t, mode)
		m := message(1)
		m.Alarm.Say, m.Alarm.Advice, m.Links = "−12 V audio: Spannung fällt, 3 Ω", "Look at the input of the stand-in.", map[string]string{"alarms": "http://127.0.0.1:8470/alarms"}
		if err := o.sender(t, func(c *Config) { c.TLS = mode }).Notify(t.Context(), m); err != nil {
			t.Errorf("%s: %v", mode, err)
			continue
		}
		got := o.mails[0]
		if got.secure != (mode != "none") || o.logins != 1 || strings.Join(got.to, " ") != "shop@shop.example hale@shop.example" {
			t.Errorf("%s: secure %v, %d logins, to %v", mode, got.secure, o.logins, got.to)
		}
		subject, err := new(mime.WordDecoder).DecodeHeader(got.m.Header.Get("Subject"))
		if want := "Urgent: −12 V audio: Spannung fällt, 3 Ω (AB-0147)"; err != nil || subject != want {
			t.Errorf("%s: subject %q, %v", mode, subject, err)
		}
		body, err := io.ReadAll(quotedprintable.NewReader(got.m.Body))
		if err != nil || !strings.Contains(string(body), m.Alarm.Say) || !strings.Contains(string(body), "http://127.0.0.1:8470/alarms") {
			t.Errorf("%s: body %q, %v", mode, body, err)
		}
		if _, err := got.m.Header.Date(); err != nil {
			t.Errorf("%s: date: %v", mode, err)
		}
		if bytes.ContainsFunc(got.raw, func(r rune) bool { return r > 126 }) {
			t.Errorf("%s: bytes beyond ASCII went over the wire", mode)
		}
	}
}

// What rails and rules are called never begins a header line of its own.
func TestNoHeaderIsInjected(t *testing.T) {
	o := newOffice(t, "none")
	m := message(1)
	evil := "x\r\nBcc: thief@elsewhere.example\r\n\r\nbody"
	m.Alarm.Rail, m.Alarm.Rule, m.Alarm.Say, m.Job, m.Bench, m.Alarm.Alarm = evil, evil, evil, evil, evil, evil
	n := o.sender(t, func(c *Config) { c.TLS, c.Subject = "none", "{{.Rail}} {{.Job}}" })
	if err := n.Notify(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	for key := range o.mails[0].m.Header {
		switch key {
		case "Date", "From", "To", "Subject", "Message-Id", "Auto-Submitted", "Importance", "Mime-Version", "Content-Type", "Content-Transfer-Encoding":
		default:
			t.Errorf("header %s", key)
		}
	}
	if len(o.mails[0].to) != 2 || !strings.Contains(o.mails[0].m.Header.Get("Subject"), "x Bcc: thief@elsewhere.example body") {
		t.Errorf("subject %q to %v", o.mails[0].m.Header.Get("Subject"), o.mails[0].to)
	}
}

func TestMailsOfAnAlarmAreAThread(t *testing.T) {
	o := newOffice(t, "none")
	n := o.sender(t, func(c *Config) { c.TLS = "none" })
	came, went, other := message(1), message(1), message(2)
	went.Alarm.From, went.Alarm.To, went.Alarm.At = capture.Active, capture.Latched, went.Alarm.At+1
	for _, m := range []Message{came, went, other, TestMessage("east", 9, nil)} {
		if err := n.Notify(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	head := func(i int, key string) string { return o.mails[i].m.Header.Get(key) }
	root := head(0, "Message-Id")
	if root == "" || head(1, "In-Reply-To") != root || head(1, "References") != root || head(1, "Message-Id") == root || head(0, "In-Reply-To") != "" {
		t.Errorf("root %q, answer %v", root, o.mails[1].m.Header)
	}
	if head(2, "Message-Id") == root || head(3, "In-Reply-To") != "" || !strings.HasPrefix(head(3, "Subject"), "Test from bench east") {
		t.Errorf("another alarm and a test: %v %v", o.mails[2].m.Header, o.mails[3].m.Header)
	}
}

// Who has taken a mail is not sent it again when another asks for patience.
func TestMailAnswers(t *testing.T) {
	o := newOffice(t, "none")
	n := o.sender(t, func(c *Config) { c.TLS = "none" })
	o.codes["hale@shop.example"] = []int{451}
	if err := n.Notify(t.Context(), message(1)); err == nil || errors.Is(err, ErrPermanent) {
		t.Errorf("451: %v", err)
	}
	if err := n.Notify(t.Context(), message(1)); err != nil {
		t.Errorf("again: %v", err)
	}
	if len(o.mails) != 2 || len(o.mails[0].to) != 1 || o.mails[1].to[0] != "hale@shop.example" || len(o.mails[1].to) != 1 {
		t.Errorf("mails %+v", o.mails)
	}
	o.codes["shop@shop.example"] = []int{550}
	err := n.Notify(t.Context(), message(2))
	if !errors.Is(err, ErrPermanent) || !strings.Contains(err.Error(), "shop@shop.example") || len(o.mails) != 3 {
		t.Errorf("550: %v, %d mails", err, len(o.mails))
	}
	t.Setenv("STEADYRAIL_TEST_PASSWORD", "wrong")
	n = o.sender(t, func(c *Config) { c.TLS, c.PasswordFile, c.PasswordEnv = "none", "", "STEADYRAIL_TEST_PASSWORD" })
	if err := n.Notify(t.Context(), message(3)); !errors.Is(err, ErrPermanent) || strings.Contains(err.Error(), "wrong") || strings.ContainsAny(err.Error(), "\r\n") {
		t.Errorf("535: %v", err)
	}
}

// Nothing goes out in the clear, and no stranger's certificate is taken.
func TestMailKeepsToTLS(t *testing.T) {
	bare := newOffice(t, "none")
	if err := bare.sender(t, func(*Config) {}).Notify(t.Context(), message(1)); !errors.Is(err, ErrPermanent) || len(bare.mails)+bare.logins != 0 {
		t.Errorf("no STARTTLS: %v", err)
	}
	for _, mode := range []string{"starttls", "implicit"} {
		o := newOffice(t, mode)
		err := o.sender(t, func(c *Config) { c.TLS, c.CAFile = mode, "" }).Notify(t.Context(), message(1))
		if err == nil || !strings.Contains(err.Error(), "certificate") || len(o.mails)+o.logins != 0 {
			t.Errorf("%s, unknown authority: %v", mode, err)
		}
	}
}

func TestMailServerThatIsStuck(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	o := &office{addr: l.Addr().String()}
	n := o.sender(t, func(c *Config) { c.TLS, c.Timeout = "none", 50*time.Millisecond })
	if err := n.Notify(t.Context(), message(1)); !errors.Is(err, context.DeadlineExceeded) || errors.Is(err, ErrPermanent) {
		t.Errorf("stuck: %v", err)
	}
	l.Close()
	if err := n.Notify(t.Context(), message(1)); err == nil || errors.Is(err, ErrPermanent) || !strings.Contains(err.Error(), "refused") {
		t.Errorf("gone: %v", err)
	}
}
