package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/mail"
	"os"
	"strings"
	"time"
)

// EmailTimeout is the longest that handing over one mail may take, unless the
// configuration says otherwise.
const EmailTimeout = 10 * time.Second

// Email hands each message to a mail server (RFC 5321), over TLS or on the
// loopback. The standard library's client is used: it is not extended any more,
// but does what is needed here, and keeps PLAIN authentication off plain
// connections itself. Answers of 4xx and a lost connection are tried again, 5xx
// is not; recipients that have taken a message are not sent it twice.
//
// It belongs to its lane's goroutine: not safe for concurrent use.
type Email struct {
	name    string
	host    string // of server, for the certificate
	server  string
	mode    string
	roots   *x509.CertPool // nil: the system's
	timeout time.Duration

	from     *mail.Address
	to       []*mail.Address
	user     string
	password func() (string, error)

	subject, body *Text // nil: our own
	zone          *time.Location

	key  string          // of the message under way
	done map[string]bool // recipients that have taken it
}

func openEmail(c Config, env Env) (Notifier, error) {
	host, _, _ := net.SplitHostPort(c.Server)
	e := &Email{
		name: or(c.Name, "email "+c.Server), host: host, server: c.Server, mode: or(c.TLS, "starttls"), timeout: or(c.Timeout, EmailTimeout),
		user: c.User, password: c.password, zone: or(env.Zone, time.UTC), done: map[string]bool{},
	}
	e.from, _ = mail.ParseAddress(c.From) // Validate has read them
	e.to, _ = c.recipients()
	var err error
	if e.body, err = c.body(env.Zone); err != nil {
		return nil, err
	}
	if c.Subject != "" {
		if e.subject, err = ParseText("line", c.Subject, env.Zone); err != nil {
			return nil, under("subject", err)
		}
	}
	e.roots, err = c.authorities()
	return e, err
}

func checkEmail(c Config) (errs []error) {
	add := func(key string, err error) {
		if err != nil {
			errs = append(errs, under(key, err))
		}
	}
	host, port, err := net.SplitHostPort(c.Server)
	switch {
	case c.Server == "":
		add("server", errors.New("an e-mail needs a server to hand it to, for example mail.example:587"))
	case err != nil || host == "" || port == "":
		add("server", fmt.Errorf("%q is not host:port, such as mail.example:587", c.Server))
	}
	switch c.TLS {
	case "", "starttls", "implicit":
	case "none":
		if !loopback(host) {
			add("tls", errors.New("without TLS a mail goes to this computer only: use starttls or implicit"))
		}
	default:
		add("tls", fmt.Errorf("%q is not known here: use starttls, implicit or none", c.TLS))
	}
	if _, err := mail.ParseAddress(c.From); err != nil {
		add("from", fmt.Errorf("%q is no address: write bench@shop.example", c.From))
	}
	_, err = c.recipients()
	add("to", err)
	errs = append(errs, c.checkPassword()...)
	_, err = c.authorities()
	add("ca_file", err)
	if _, err = c.body(nil); err != nil {
		errs = append(errs, err)
	}
	if c.Subject != "" {
		_, err = ParseText("line", c.Subject, nil)
		add("subject", err)
	}
	return errs
}

// recipients reads the list of addresses.
func (c Config) recipients() (out []*mail.Address, err error) {
	if len(c.To) == 0 || len(c.To) > 50 {
		return nil, errors.New("list who gets the mail, 50 at most: [shop@shop.example]")
	}
	seen := map[string]bool{}
	for _, s := range c.To {
		a, err := mail.ParseAddress(s)
		if err != nil {
			return nil, fmt.Errorf("%q is no address: write shop@shop.example", s)
		}
		if seen[a.Address] {
			return nil, fmt.Errorf("%s stands twice", a.Address)
		}
		seen[a.Address] = true
		out = append(out, a)
	}
	return out, nil
}

func (c Config) checkPassword() (errs []error) {
	switch given := c.PasswordFile != "" || c.PasswordEnv != ""; {
	case c.PasswordFile != "" && c.PasswordEnv != "":
		return []error{errors.New("password_env: give password_file or password_env, not both")}
	case given && c.User == "":
		return []error{errors.New("user: a password needs its user")}
	case !given && c.User != "":
		return []error{errors.New("user: a user needs password_file or password_env")}
	case !given:
		return nil
	}
	if _, err := c.password(); err != nil {
		key := "password_file"
		if c.PasswordEnv != "" {
			key = "password_env"
		}
		errs = append(errs, under(key, err))
	}
	return errs
}

// password reads the secret anew each time, so that it can be changed without a
// restart and does not stay in memory.
func (c Config) password() (string, error) {
	if c.PasswordEnv != "" {
		if v := os.Getenv(c.PasswordEnv); v != "" {
			return v, nil
		}
		return "", fmt.Errorf("the environment has no %s", c.PasswordEnv)
	}
	info, err := os.Stat(c.PasswordFile)
	switch {
	case err != nil:
		return "", err
	case info.Mode().Perm()&0o004 != 0 && os.PathSeparator == '/': // Windows has no such bits
		return "", fmt.Errorf("everybody may read %s: chmod 600 it", c.PasswordFile)
	case info.Size() > 4096:
		return "", fmt.Errorf("%s is larger than a password", c.PasswordFile)
	}
	b, err := os.ReadFile(c.PasswordFile)
	if err != nil {
		return "", err
	}
	s := strings.TrimRight(string(b), "\r\n")
	if s == "" || strings.ContainsAny(s, "\r\n\x00") {
		return "", fmt.Errorf("%s must hold the password on one line", c.PasswordFile)
	}
	return s, nil
}

// authorities reads who may sign the server's certificate; nil: the system's.
func (c Config) authorities() (*x509.CertPool, error) {
	if c.CAFile == "" {
		return nil, nil
	}
	b, err := os.ReadFile(c.CAFile)
	if err != nil {
		return nil, err
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(b) {
		return nil, fmt.Errorf("%s holds no certificate in PEM", c.CAFile)
	}
	return pool, nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Name returns the notifier's name.
func (e *Email) Name() string { return e.name }

// Bound is how long an attempt may take.
func (e *Email) Bound() time.Duration { return e.timeout }

func (e *Email) tls() *tls.Config {
	return &tls.Config{ServerName: e.host, RootCAs: e.roots, MinVersion: tls.VersionTLS12}
}

// Notify makes one attempt.
func (e *Email) Notify(ctx context.Context, m Message) error {
	ctx, cancel := context.WithTimeout(ctx, e.timeout)
	defer cancel()
	text, err := e.compose(m, time.Now())
	if err != nil {
		return fmt.Errorf("write mail: %w: %w", ErrPermanent, err)
	}
	if key := m.Key(); key != e.key {
		e.key = key
		clear(e.done)
	}
	if err := e.hand(ctx, text); err != nil {
		if ctx.Err() != nil {
			err = fmt.Errorf("%w (%w)", ctx.Err(), err)
		}
		return fmt.Errorf("hand mail to %s: %w", e.server, err)
	}
	return nil
}
