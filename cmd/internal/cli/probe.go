package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
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

// target is a port to be asked, and how.
type target struct {
	name    string
	address wire.Address
	lines   []wire.Line // to try in turn
	brief   bool        // such a plan was told before: the same steps in fewer words
}

// target finds out what a name means: a link, a port of the list, a path.
func (p *prober) target(name string, list []wire.Port) (target, error) {
	link := name
	for _, port := range list {
		if port.Name == name || port.Stable == name {
			link = port.Link
		}
	}
	a, err := wire.ParseAddress(plainPath(link))
	if err != nil && link == name && !strings.Contains(name, ":") {
		a, err = wire.ParseAddress("serial:" + name) // not there: opening it says so
	}
	if err != nil {
		return target{}, use(err)
	}
	t := target{name: name, address: a}
	if !serial(a) || a.Line.Baud != 0 {
		t.lines = []wire.Line{{}}
		return t, nil
	}
	for _, b := range p.bauds {
		l := wire.Line{Baud: b}
		if err := l.Validate(); err != nil || b == 0 {
			return target{}, usef("--baud %d: use rates such as 9600,19200,115200", b)
		}
		t.lines = append(t.lines, l)
	}
	return t, nil
}

// plainPath puts the kind of link before a path of a device that is there; it
// leaves alone what is a link already.
func plainPath(link string) string {
	path, _, _ := strings.Cut(link, "?")
	info, err := os.Stat(path)
	if err != nil || info.IsDir() {
		return link
	}
	switch base := filepath.Base(path); {
	case strings.HasPrefix(base, "usbtmc"):
		return wire.KindUSBTMC + ":" + link
	case strings.HasPrefix(base, "hidraw"):
		return wire.KindHID + ":" + link
	}
	return wire.KindSerial + ":" + link
}

func serial(a wire.Address) bool { return a.Kind == wire.KindSerial || a.Kind == wire.KindUSB }

// messages tells a link on which nothing can be heard without being asked for:
// a read is a request there.
func messages(a wire.Address) bool {
	return !serial(a) && a.Kind != wire.KindTCP && a.Kind != wire.KindHID
}

func (t target) line(l wire.Line) wire.Line { return wire.DefaultLine().With(l).With(t.address.Line) }

// plan says to the byte what will be done.
func (t target) plan(w io.Writer) {
	if t.brief {
		t.planAgain(w)
		return
	}
	first := t.line(t.lines[0])
	fmt.Fprintf(w, "%s:\n", t.name)
	if serial(t.address) {
		fmt.Fprintf(w, "  opens it at %s, DTR %s, RTS %s\n", settings(first), first.DTR, first.RTS)
		fmt.Fprintln(w, "    (Linux raises both for a moment whenever a port is opened, and a rising DTR")
		if first.DTR == "on" {
			fmt.Fprintln(w, "    restarts some small boards; ?dtr=off&rts=off behind the link puts them low")
			fmt.Fprintln(w, "    after that)")
		} else {
			fmt.Fprintln(w, "    restarts some small boards)")
		}
	} else {
		fmt.Fprintf(w, "  opens %s\n", t.address)
	}
	if !messages(t.address) {
		fmt.Fprintf(w, "  listens for %.1f s; what talks by itself is left alone, and nothing is sent\n", listenFor.Seconds())
	}
	bytes := asked + endOfLine(first)
	fmt.Fprintf(w, "  sends %s and %s, in hexadecimal % X, and waits for the answer\n", asked, terminator(first), bytes)
	if more := t.rates(); more != "" {
		fmt.Fprintf(w, "  the same at %s baud, until something answers\n", more)
	}
}

// rates are those that come after the first.
func (t target) rates() string {
	var more []string
	for _, l := range t.lines[1:] {
		more = append(more, strconv.Itoa(l.Baud))
	}
	return strings.Join(more, ", ")
}

// planAgain is the plan for who has read one.
func (t target) planAgain(w io.Writer) {
	first := t.line(t.lines[0])
	at := ""
	if serial(t.address) {
		at = fmt.Sprintf(" at %s, DTR %s, RTS %s", settings(first), first.DTR, first.RTS)
	}
	if more := t.rates(); more != "" {
		at += ", then at " + more
	}
	sends := "; sends"
	if !messages(t.address) {
		sends = "; listens, and only into silence sends"
	}
	fmt.Fprintf(w, "%s:\n  opens it%s%s % X (%s, %s)\n", t.name, at, sends, asked+endOfLine(first), asked, terminator(first))
}

// settings prints 9600 baud 8N1.
func settings(l wire.Line) string {
	parity := "?"
	if l.Parity != "" {
		parity = strings.ToUpper(l.Parity[:1])
	}
	return fmt.Sprintf("%d baud %d%s%s", l.Baud, l.DataBits, parity, l.StopBits)
}

func terminator(l wire.Line) string {
	if l.Terminator == "" {
		return "LF"
	}
	return l.Terminator
}

func endOfLine(l wire.Line) string {
	return map[string]string{"CR": "\r", "CRLF": "\r\n", "LF": "\n"}[terminator(l)]
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
