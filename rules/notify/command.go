package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
	"unicode"
)

// CommandTimeout is the longest that a command may run, unless the
// configuration says otherwise.
const CommandTimeout = 5 * time.Second

// Command runs a program for each message. Its arguments are those of the
// configuration and no others; there is no shell; the message is on its
// standard input as JSON ([Message.MarshalJSON]). Exit code 0 is delivery,
// EX_TEMPFAIL (75, sysexits.h) and a time-out are tried again, any other code
// is not. What it prints is thrown away but for the first line of standard
// error, which explains a failure.
type Command struct {
	name    string
	argv    []string // the program's path first
	env     []string
	timeout time.Duration
}

// tryLater is the exit code that asks for another attempt.
const tryLater = 75

func openCommand(c Config, env Env) (Notifier, error) {
	path, err := program(c.Argv[0])
	if err != nil {
		return nil, err
	}
	out := &Command{name: or(c.Name, "command "+c.Argv[0]), argv: append([]string{path}, c.Argv[1:]...), timeout: or(c.Timeout, CommandTimeout)}
	// Nothing of an alarm stands here, and nothing of the daemon's own
	// environment but what programs need to run at all.
	out.env = []string{"LANG=C.UTF-8", "STEADYRAIL_BENCH=" + env.Bench, "STEADYRAIL_NOTIFIER=" + out.name}
	for _, key := range inherited {
		if v, ok := os.LookupEnv(key); ok {
			out.env = append(out.env, key+"="+v)
		}
	}
	return out, nil
}

// program finds a program by its path, or by its name in PATH.
func program(name string) (string, error) {
	path, err := exec.LookPath(name)
	switch {
	case errors.Is(err, exec.ErrDot):
		return "", fmt.Errorf("argv: %s lies in the present folder: write its full path", name)
	case err != nil:
		return "", fmt.Errorf("argv: there is no program %s that may be run", name)
	}
	return path, nil
}

func checkCommand(c Config) (errs []error) {
	if len(c.Argv) == 0 {
		return []error{errors.New("argv: a command needs its program and arguments as a list, for example [/usr/local/bin/pager, --short]")}
	}
	for _, a := range c.Argv {
		if strings.ContainsFunc(a, unicode.IsControl) || len(a) > 4096 {
			errs = append(errs, errors.New("argv: an argument holds control characters or is longer than 4096 bytes"))
		}
	}
	if strings.ContainsAny(c.Argv[0], `/\`) && !filepath.IsAbs(c.Argv[0]) {
		return append(errs, fmt.Errorf("argv: %s depends on the folder the daemon is started in: write the full path", c.Argv[0]))
	}
	if _, err := program(c.Argv[0]); err != nil {
		errs = append(errs, err)
	}
	return errs
}

// Name returns the notifier's name.
func (c *Command) Name() string { return c.name }

// Bound is how long an attempt may take.
func (c *Command) Bound() time.Duration { return c.timeout }

// Notify runs the program once.
func (c *Command) Notify(ctx context.Context, m Message) error {
	in, err := json.Marshal(m)
	if err != nil {
		return fmt.Errorf("write message: %w: %w", ErrPermanent, err)
	}
	ctx, cancel := context.WithTimeout(ctx, c.timeout)
	defer cancel()
	said := &head{room: 1024}
	cmd := exec.CommandContext(ctx, c.argv[0], c.argv[1:]...)
	cmd.Env, cmd.Dir = c.env, os.TempDir()
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(append(in, '\n')), io.Discard, said
	cmd.WaitDelay = time.Second // a child that escaped may hold the pipes open
	alone(cmd)
	return c.verdict(ctx, cmd.Run(), said)
}

func (c *Command) verdict(ctx context.Context, err error, said *head) error {
	var exit *exec.ExitError
	switch {
	case err == nil, errors.Is(err, exec.ErrWaitDelay): // it ended well, and left a child that holds its output
		return nil
	case ctx.Err() != nil:
		return fmt.Errorf("run %s: it took longer than allowed and was ended%s: %w", c.argv[0], said.line(), ctx.Err())
	case errors.As(err, &exit) && exit.ExitCode() == tryLater:
		return fmt.Errorf("run %s: it asks to be tried later%s", c.argv[0], said.line())
	case errors.As(err, &exit):
		return fmt.Errorf("run %s: %s%s: %w", c.argv[0], exit, said.line(), ErrPermanent)
	}
	return fmt.Errorf("run %s: %w", c.argv[0], err)
}

// head keeps the beginning of what is written and drops the rest.
type head struct {
	b    bytes.Buffer
	room int
}

func (h *head) Write(p []byte) (int, error) {
	h.b.Write(p[:min(len(p), max(0, h.room-h.b.Len()))])
	return len(p), nil
}

// line returns ": " and the first line, without control characters; empty when
// nothing was said.
func (h *head) line() string {
	first, _, _ := strings.Cut(strings.TrimSpace(h.b.String()), "\n")
	first = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, first)
	if len(first) > 200 {
		first = strings.ToValidUTF8(first[:200], "") + "..."
	}
	if first == "" {
		return ""
	}
	return ": " + first
}
