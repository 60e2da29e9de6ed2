package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"steadyrail/drivers/wire"
)

// prober asks named ports who is there.
type prober struct {
	yes   bool
	bauds []int
}

// finding is what came of one port.
type finding struct {
	Name    string `json:"name"`
	Link    string `json:"link"`
	Baud    int    `json:"baud,omitempty"`   // at which something came
	Heard   string `json:"heard,omitempty"`  // came unasked; nothing was sent then
	Answer  string `json:"answer,omitempty"` // to *IDN?
	Problem string `json:"problem,omitempty"`
	failed  bool   // it could not be opened
}

// asked is what a probe sends, and all that it sends.
const asked = "*IDN?"

// listenFor is how long a port is listened to before anything is sent. The
// slowest meters talk about once a second.
const listenFor = 1100 * time.Millisecond

func (p *prober) run(ctx context.Context, s streams, list []wire.Port, names []string, asJSON bool) error {
	var targets []target
	for _, name := range names {
		t, err := p.target(name, list)
		if err != nil {
			return err
		}
		targets = append(targets, t)
	}
	for _, t := range targets {
		t.plan(s.err)
	}
	if !p.yes {
		if err := confirm(ctx, s, "Go on?"); err != nil {
			return err
		}
	}
	var found []finding
	for _, t := range targets {
		f := t.probe(ctx)
		found = append(found, f)
		if ctx.Err() != nil {
			return fmt.Errorf("stopped: %w", ctx.Err())
		}
		if !asJSON {
			f.show(s.out)
		}
	}
	if asJSON {
		if err := writeJSON(s.out, found); err != nil {
			return err
		}
	}
	return outcome(found)
}

// outcome turns findings into an exit code; what there is to say was said.
func outcome(found []finding) error {
	code := exitDone
	for _, f := range found {
		switch {
		case f.failed:
			return &exitError{code: exitEnvironment}
		case f.Answer == "" && f.Heard == "":
			code = exitJudgedBad
		}
	}
	if code == exitDone {
		return nil
	}
	return &exitError{code: code}
}

// confirm asks for a yes, and takes nothing else for one.
func confirm(ctx context.Context, s streams, question string) error {
	if !fromTerminal(s.in) {
		return usef("nobody can be asked here: add --yes if this may be sent; nothing was opened")
	}
	answer, err := newAsker(s.in, s.err, true).line(ctx, question+" Type yes: ")
	if err != nil || !isYes(answer) {
		return usef("not confirmed: nothing was opened and nothing was sent")
	}
	return nil
}

func isYes(s string) bool {
	s = strings.ToLower(strings.TrimSpace(s))
	return s == "yes" || s == "y"
}

// probe asks at one rate after the other, until something is heard.
func (t target) probe(ctx context.Context) finding {
	f := finding{Name: t.name, Link: t.address.String()}
	var problems []string
	for _, l := range t.lines {
		heard, answer, err := t.try(ctx, l)
		if serial(t.address) {
			f.Baud = t.line(l).Baud
		}
		if heard != "" || answer != "" {
			f.Heard, f.Answer, f.Problem = heard, answer, ""
			return f
		}
		if cannotOpen(err) {
			f.Problem, f.failed, f.Baud = err.Error(), true, 0
			return f
		}
		problem := reason(err)
		if f.Baud != 0 {
			problem = fmt.Sprintf("at %d baud %s", f.Baud, problem)
		}
		problems = append(problems, problem)
	}
	f.Baud, f.Problem = 0, strings.Join(problems, "; ")
	return f
}

// cannotOpen tells a port that cannot be had from one that stays silent.
func cannotOpen(err error) bool {
	for _, is := range []error{wire.ErrNoPort, wire.ErrBusy, wire.ErrDenied, wire.ErrAddress, wire.ErrGone, wire.ErrStuck, wire.ErrSettings} {
		if errors.Is(err, is) {
			return true
		}
	}
	return false
}

func reason(err error) string {
	if errors.Is(err, wire.ErrTimeout) {
		return "no answer"
	}
	return "no usable answer (" + err.Error() + ")"
}

// try listens at one rate and asks when it stays silent.
func (t target) try(ctx context.Context, l wire.Line) (heard, answer string, err error) {
	conn, err := wire.Open(ctx, t.address, l)
	if err != nil {
		return "", "", err
	}
	defer conn.Close()
	if !messages(t.address) {
		b, err := listen(ctx, conn, listenFor)
		if err != nil || len(b) > 0 {
			return quoteHeard(b), "", err
		}
	}
	answer, err = conn.Query(ctx, asked)
	return "", answer, err
}

// listen collects what a far end says by itself, and sends nothing.
func listen(ctx context.Context, link wire.Link, d time.Duration) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, d)
	defer cancel()
	var all []byte
	for len(all) < 200 {
		part, err := link.Exchange(ctx, nil, func(b []byte) (int, int) { return 0, len(b) })
		switch {
		case errors.Is(err, wire.ErrTimeout) && ctx.Err() == nil:
			continue // the link's own patience is shorter
		case errors.Is(err, wire.ErrTimeout):
			return all, nil
		case err != nil:
			return all, err
		}
		all = append(all, part...)
	}
	return all, nil
}

// quoteHeard prints text as text, and anything else in hexadecimal.
func quoteHeard(b []byte) string {
	const most = 80
	if len(b) == 0 {
		return ""
	}
	more := ""
	if len(b) > most {
		b, more = b[:most], " ..."
	}
	for _, c := range b {
		if c > '~' || c < ' ' && c != '\r' && c != '\n' && c != '\t' {
			return fmt.Sprintf("% X%s", b[:min(len(b), 20)], more)
		}
	}
	return strconv.Quote(string(b)) + more
}

func (f finding) show(w io.Writer) {
	at := ""
	if f.Baud != 0 {
		at = fmt.Sprintf(" at %d baud", f.Baud)
	}
	switch {
	case f.Heard != "":
		fmt.Fprintf(w, "%s talks by itself%s; nothing was sent. It said:\n    %s\n", f.Name, at, f.Heard)
	case f.Answer != "":
		link := f.Link
		if f.Baud != 0 {
			link = fmt.Sprintf("%s?baud=%d", link, f.Baud)
		}
		fmt.Fprintf(w, "%s answers%s:\n    %s\n    link: %s\n", f.Name, at, f.Answer, link)
	default:
		fmt.Fprintf(w, "%s: %s\n", f.Name, f.Problem)
	}
}
