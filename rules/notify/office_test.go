package notify

import (
	"bytes"
	"crypto/tls"
	"encoding/pem"
	"io"
	"net"
	"net/http/httptest"
	"net/mail"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// office is a real mail server: written by others, with TLS and a password.
type office struct {
	mu     sync.Mutex
	mails  []delivered
	codes  map[string][]int // of the next answers to a recipient, 250 after them
	logins int
	server *smtp.Server
	addr   string
	ca     string // file with the certificate
}

type delivered struct {
	to     []string
	secure bool
	m      *mail.Message
	raw    []byte
}

// newOffice starts a server: "starttls", "implicit" or "none".
func newOffice(t *testing.T, mode string) *office {
	t.Helper()
	o := &office{codes: map[string][]int{}}
	web := httptest.NewUnstartedServer(nil) // lends its certificate for 127.0.0.1
	web.StartTLS()
	cert := web.TLS.Certificates[0]
	web.Close()
	o.ca = filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(o.ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Certificate[0]}), 0o600); err != nil {
		t.Fatal(err)
	}
	o.server = smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &sitting{o: o, c: c}, nil }))
	o.server.Domain, o.server.AllowInsecureAuth = "localhost", mode == "none"
	o.server.ErrorLog = quiet{}
	if mode != "none" {
		o.server.TLSConfig = &tls.Config{Certificates: []tls.Certificate{cert}}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	o.addr = l.Addr().String()
	if mode == "implicit" {
		l = tls.NewListener(l, o.server.TLSConfig)
	}
	ended := make(chan struct{})
	go func() { defer close(ended); _ = o.server.Serve(l) }()
	t.Cleanup(func() { o.server.Close(); <-ended })
	return o
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

// sitting is one connection.
type sitting struct {
	o  *office
	c  *smtp.Conn
	to []string
}

func (s *sitting) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *sitting) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		s.o.mu.Lock()
		defer s.o.mu.Unlock()
		s.o.logins++
		if user != "bench" || password != "open sesame" {
			return &smtp.SMTPError{Code: 535, Message: "no\r\nsuch user"}
		}
		return nil
	}), nil
}

func (s *sitting) Mail(string, *smtp.MailOptions) error { return nil }

func (s *sitting) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.o.mu.Lock()
	defer s.o.mu.Unlock()
	if list := s.o.codes[to]; len(list) > 0 {
		s.o.codes[to] = list[1:]
		return &smtp.SMTPError{Code: list[0], Message: "not now"}
	}
	s.to = append(s.to, to)
	return nil
}

func (s *sitting) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	_, secure := s.c.TLSConnectionState()
	s.o.mu.Lock()
	defer s.o.mu.Unlock()
	s.o.mails = append(s.o.mails, delivered{s.to, secure, m, raw})
	return nil
}

func (s *sitting) Reset()        { s.to = nil }
func (s *sitting) Logout() error { return nil }

// sender opens an e-mail notifier to the office.
func (o *office) sender(t *testing.T, with func(*Config)) Notifier {
	t.Helper()
	secret := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(secret, []byte("open sesame\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := Config{Kind: "email", Name: "office", Server: o.addr, CAFile: o.ca, From: "Bench <bench@shop.example>", To: []string{"shop@shop.example", "R. Hale <hale@shop.example>"}, User: "bench", PasswordFile: secret}
	with(&c)
	n, err := c.Open(Env{Bench: "east"})
	if err != nil {
		t.Fatal(err)
	}
	return n
}
