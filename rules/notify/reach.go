package notify

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"os/exec"
)

// Label is the name that screens and tests know a notifier by, without opening it.
func (c Config) Label() string {
	switch {
	case c.Name != "":
		return c.Name
	case c.Kind == "email":
		return "email " + c.Server
	case c.Kind == "command" && len(c.Argv) > 0:
		return "command " + c.Argv[0]
	case c.URL != "":
		return c.Kind + " " + redacted(c.URL)
	}
	return c.Kind
}

// Reach says whether a notifier's receiver is there, without telling it anything:
// that a server takes a connection, that a program can be found. A receiver that is
// there may still refuse what it is told; only a test shows that.
func (c Config) Reach(ctx context.Context) error {
	switch c.Kind {
	case "webhook", "alertmanager":
		u, err := url.Parse(c.URL)
		if err != nil {
			return fmt.Errorf("reach %s: %w", c.Label(), err)
		}
		return c.dial(ctx, hostPort(u))
	case "email":
		return c.dial(ctx, c.Server)
	case "command":
		if len(c.Argv) == 0 {
			return fmt.Errorf("reach %s: no program is named", c.Label())
		}
		if _, err := exec.LookPath(c.Argv[0]); err != nil {
			return fmt.Errorf("reach %s: %w", c.Label(), err)
		}
	}
	return nil
}

// hostPort gives a URL without a port the one of its scheme.
func hostPort(u *url.URL) string {
	if u.Port() != "" {
		return u.Host
	}
	port := "80"
	if u.Scheme == "https" {
		port = "443"
	}
	return net.JoinHostPort(u.Hostname(), port)
}

func (c Config) dial(ctx context.Context, address string) error {
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", address)
	if err != nil {
		return fmt.Errorf("reach %s: %w", c.Label(), err)
	}
	return conn.Close()
}
