package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"

	"steadyrail/capture"
)

// Config is one entry of the bench's notify list. What a kind does not use
// must be left out.
type Config struct {
	Kind    string        `yaml:"kind" mapstructure:"kind" json:"kind"`    // a kind of the table
	Name    string        `yaml:"name" mapstructure:"name" json:"name"`    // for screens; empty: the kind's own
	URL     string        `yaml:"url" mapstructure:"url" json:"url"`       // webhook: where to post
	Timeout time.Duration `yaml:"timeout" mapstructure:"timeout" json:"-"` // webhook: of one request; 0: 2 s
	Least   string        `yaml:"least" mapstructure:"least" json:"least"` // tell from this severity on; empty: all
}

// Env is what notifiers get from the program.
type Env struct {
	Out  io.Writer      // the terminal
	Zone *time.Location // for times people read; nil: UTC
}

// Kind is a line of the table of notifiers.
type Kind struct {
	Name  string
	Check func(Config) []error // of what is its own
	New   func(Config, Env) Notifier
}

// Table lists every kind of notifier: one line for each.
func Table() []Kind {
	return []Kind{
		{Name: "webhook", Check: checkWebhook, New: func(c Config, _ Env) Notifier { return NewWebhook(c.Name, c.URL, c.Timeout) }},
		{Name: "terminal", Check: checkTerminal, New: func(_ Config, e Env) Notifier { return NewTerminal(e.Out, e.Zone) }},
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

// Validate reports everything that is wrong with the entry, joined.
func (c Config) Validate() error {
	var errs []error
	if k, known := find(c.Kind); known {
		errs = k.Check(c)
	} else {
		errs = append(errs, fmt.Errorf("kind: unknown kind %q: use %s", c.Kind, strings.Join(Kinds(), " or ")))
	}
	if c.Least != "" {
		if _, err := capture.ParseSeverity(c.Least); err != nil {
			errs = append(errs, fmt.Errorf("least: %w", err))
		}
	}
	return errors.Join(errs...)
}

func checkWebhook(c Config) (errs []error) {
	u, err := url.Parse(c.URL)
	switch {
	case c.URL == "":
		errs = append(errs, errors.New("url: a webhook needs an address to post to, for example http://127.0.0.1:9999/hook"))
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		errs = append(errs, errors.New("url: the address must begin with http:// or https:// and name a host"))
	}
	if c.Timeout < 0 || c.Timeout > 30*time.Second {
		errs = append(errs, fmt.Errorf("timeout: %s is not between 0 and 30s", c.Timeout))
	}
	return errs
}

func checkTerminal(c Config) (errs []error) {
	if c.URL != "" {
		errs = append(errs, errors.New("url: the terminal has no address: leave it out"))
	}
	if c.Timeout != 0 {
		errs = append(errs, errors.New("timeout: the terminal has no time-out: leave it out"))
	}
	return errs
}

// Open makes the notifier. It touches nothing yet.
func (c Config) Open(env Env) (Notifier, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("open notifier: %w", err)
	}
	k, _ := find(c.Kind)
	n := k.New(c, env)
	if c.Least == "" {
		return n, nil
	}
	least, _ := capture.ParseSeverity(c.Least)
	return &sieve{Notifier: n, least: least}, nil
}

// Close closes what is behind it.
func (s *sieve) Close() error {
	if c, ok := s.Notifier.(io.Closer); ok {
		return c.Close()
	}
	return nil
}

// sieve lets through what is grave enough.
type sieve struct {
	Notifier
	least capture.Severity
}

func (s *sieve) Notify(ctx context.Context, m Message) error {
	if m.Alarm.Severity < s.least {
		return nil
	}
	return s.Notifier.Notify(ctx, m)
}
