package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// Config is one entry of the bench's notify list. What a kind does not use
// must be left out: [Kind.Keys] says what it does.
type Config struct {
	Kind        string        `yaml:"kind" mapstructure:"kind" json:"kind"`    // a kind of the table
	Name        string        `yaml:"name" mapstructure:"name" json:"name"`    // for screens and tests; empty: the kind's own
	Least       string        `yaml:"least" mapstructure:"least" json:"least"` // tell from this severity on; empty: all
	URL         string        `yaml:"url" mapstructure:"url" json:"url"`       // where to post
	Timeout     time.Duration `yaml:"timeout" mapstructure:"timeout" json:"-"` // of one attempt; 0: the kind's own
	GroupAfter  int           `yaml:"group_after" mapstructure:"group_after" json:"-"`
	GroupWithin time.Duration `yaml:"group_within" mapstructure:"group_within" json:"-"`

	Subject     string `yaml:"subject" mapstructure:"subject" json:"-"`     // template of an e-mail's subject
	Body        string `yaml:"body" mapstructure:"body" json:"-"`           // template of what is sent
	BodyFile    string `yaml:"body_file" mapstructure:"body_file" json:"-"` // file with that template
	ContentType string `yaml:"content_type" mapstructure:"content_type" json:"-"`

	Resend time.Duration `yaml:"resend" mapstructure:"resend" json:"-"` // Alertmanager: how often what holds is said again; 0: 1 min

	Server       string   `yaml:"server" mapstructure:"server" json:"-"` // SMTP: host:port
	TLS          string   `yaml:"tls" mapstructure:"tls" json:"-"`       // SMTP: starttls (default), implicit or none
	CAFile       string   `yaml:"ca_file" mapstructure:"ca_file" json:"-"`
	From         string   `yaml:"from" mapstructure:"from" json:"-"`
	To           []string `yaml:"to" mapstructure:"to" json:"-"`
	User         string   `yaml:"user" mapstructure:"user" json:"-"`
	PasswordFile string   `yaml:"password_file" mapstructure:"password_file" json:"-"`
	PasswordEnv  string   `yaml:"password_env" mapstructure:"password_env" json:"-"` // name of an environment variable

	Argv []string `yaml:"argv" mapstructure:"argv" json:"-"` // program and arguments, as they are
}

// Env is what notifiers get from the program.
type Env struct {
	Out     io.Writer        // the terminal
	Zone    *time.Location   // for times people read; nil: UTC
	Bench   string           // its name
	Address func() string    // host:port of the daemon's pages; nil or empty: not known
	Open    func() []Message // the alarms that are open now; nil: nobody knows
}

// Kind is a line of the table of notifiers.
type Kind struct {
	Name  string
	Keys  []string             // keys it uses beside kind, name and least
	Check func(Config) []error // of what is its own
	New   func(Config, Env) (Notifier, error)
}

// Table lists every kind of notifier: one line for each.
func Table() []Kind {
	grouping := []string{"group_after", "group_within"}
	return []Kind{
		{"webhook", append(grouping, "url", "timeout", "body", "body_file", "content_type"), checkWebhook, openWebhook},
		{"alertmanager", []string{"url", "timeout", "resend"}, checkAlertmanager, openAlertmanager},
		{"email", append(grouping, "timeout", "server", "tls", "ca_file", "from", "to", "user", "password_file", "password_env", "subject", "body", "body_file"), checkEmail, openEmail},
		{"command", append(grouping, "timeout", "argv"), checkCommand, openCommand},
		{"terminal", grouping, func(Config) []error { return nil }, func(_ Config, e Env) (Notifier, error) { return NewTerminal(e.Out, e.Zone), nil }},
	}
}

func find(name string) (Kind, bool) {
	for _, k := range Table() {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

// Kinds lists the names that Config.Kind may take.
func Kinds() []string {
	var out []string
	for _, k := range Table() {
		out = append(out, k.Name)
	}
	return out
}

// set tells which keys have a value, beside kind, name and least.
func (c Config) set() map[string]bool {
	return map[string]bool{
		"url": c.URL != "", "timeout": c.Timeout != 0, "group_after": c.GroupAfter != 0, "group_within": c.GroupWithin != 0,
		"subject": c.Subject != "", "body": c.Body != "", "body_file": c.BodyFile != "", "content_type": c.ContentType != "",
		"resend": c.Resend != 0, "server": c.Server != "", "tls": c.TLS != "", "ca_file": c.CAFile != "", "from": c.From != "", "to": len(c.To) > 0,
		"user": c.User != "", "password_file": c.PasswordFile != "", "password_env": c.PasswordEnv != "", "argv": len(c.Argv) > 0,
	}
}

// Validate reports everything that is wrong with the entry, joined. Each error
// begins with its key. It reads the files that the entry names.
func (c Config) Validate() error {
	var errs []error
	if k, known := find(c.Kind); known {
		errs = append(c.strangers(k), k.Check(c)...)
	} else {
		errs = append(errs, fmt.Errorf("kind: unknown kind %q: use %s", c.Kind, strings.Join(Kinds(), " or ")))
	}
	if c.Least != "" {
		if _, err := capture.ParseSeverity(c.Least); err != nil {
			errs = append(errs, fmt.Errorf("least: %w", err))
		}
	}
	if c.Timeout < 0 || c.Timeout > 30*time.Second {
		errs = append(errs, fmt.Errorf("timeout: %s is not between 0 and 30s", c.Timeout))
	}
	if c.GroupAfter < 0 || c.GroupWithin < 0 || c.GroupWithin > time.Minute {
		errs = append(errs, errors.New("group_within: messages are gathered for a minute at most, and none is held back without end"))
	}
	return errors.Join(errs...)
}

// strangers lists keys that the kind does not use, in order of their names.
func (c Config) strangers(k Kind) (errs []error) {
	var odd []string
	for key, there := range c.set() {
		if there && !slices.Contains(k.Keys, key) {
			odd = append(odd, key)
		}
	}
	slices.Sort(odd)
	for _, key := range odd {
		errs = append(errs, fmt.Errorf("%s: a notifier of kind %s has no use for it: leave it out", key, k.Name))
	}
	return errs
}

// Open makes the notifier. It reads its files and touches nothing else yet.
func (c Config) Open(env Env) (Notifier, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("open notifier: %w", err)
	}
	k, _ := find(c.Kind)
	n, err := k.New(c, env)
	if err != nil {
		return nil, fmt.Errorf("open notifier: %w", err)
	}
	return &chosen{n, c.Kind, c.severity(), c.GroupAfter, c.GroupWithin}, nil
}

// severity is the least that is told.
func (c Config) severity() capture.Severity {
	if c.Least == "" {
		return capture.Notice
	}
	s, _ := capture.ParseSeverity(c.Least) // Validate has read it
	return s
}

// chosen is a notifier with what the configuration says about its queue; a
// lane takes the two apart.
type chosen struct {
	Notifier
	kind        string
	least       capture.Severity
	groupAfter  int
	groupWithin time.Duration
}

// Notify passes on what is grave enough.
func (c *chosen) Notify(ctx context.Context, m Message) error {
	if m.Alarm.Severity < c.least && !m.Test {
		return nil
	}
	return c.Notifier.Notify(ctx, m)
}

// Close closes what is behind it.
func (c *chosen) Close() error {
	if n, ok := c.Notifier.(io.Closer); ok {
		return n.Close()
	}
	return nil
}
