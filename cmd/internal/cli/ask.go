package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// errNoAnswer tells that the answers ended before the questions.
var errNoAnswer = errors.New("there is no answer left")

// asker asks a person, or a file of answers, one line each.
type asker struct {
	out   io.Writer
	lines chan string // closed at the end of the input
	live  bool        // a person can be asked again, a file cannot
	n     int         // answers taken, for messages
}

// newAsker reads answers from in. Its goroutine ends with the input, or with
// the program: nothing can wake a read from a terminal.
func newAsker(in io.Reader, out io.Writer, live bool) *asker {
	a := &asker{out: out, lines: make(chan string), live: live}
	go func() {
		defer close(a.lines)
		sc := bufio.NewScanner(in)
		for sc.Scan() {
			a.lines <- strings.TrimSpace(sc.Text())
		}
	}()
	return a
}

// line asks once. In a file of answers what begins with # is a comment.
func (a *asker) line(ctx context.Context, prompt string) (string, error) {
	fmt.Fprint(a.out, prompt)
	for {
		select {
		case <-ctx.Done():
			fmt.Fprintln(a.out)
			return "", context.Cause(ctx)
		case s, ok := <-a.lines:
			if !ok {
				fmt.Fprintln(a.out)
				return "", errNoAnswer
			}
			if !a.live && strings.HasPrefix(s, "#") {
				continue
			}
			a.n++
			if !a.live {
				fmt.Fprintln(a.out, s)
			}
			return s, nil
		}
	}
}

// question has a default, which an empty answer takes, and a check that says
// what is wrong with an answer.
type question struct {
	text   string
	preset string
	empty  string                              // what an empty answer does, where the default does not say it
	check  func(answer string) (string, error) // nil: anything goes
}

// ask asks until the answer can be used.
func (a *asker) ask(ctx context.Context, q question) (string, error) {
	hint := q.preset
	if q.empty != "" {
		hint = q.empty
	}
	for {
		s, err := a.line(ctx, fmt.Sprintf("%s [%s]: ", q.text, hint))
		if err != nil {
			return "", fmt.Errorf("%q: %w", q.text, err)
		}
		if s == "" {
			return q.preset, nil
		}
		if q.check == nil {
			return s, nil
		}
		good, err := q.check(s)
		if err == nil {
			return good, nil
		}
		if !a.live {
			return "", usef("answer %d, to %q: %w", a.n, q.text, err)
		}
		fmt.Fprintln(a.out, wrappedFor(a.out, "  "+err.Error(), "  "))
	}
}

// yes asks a question whose default is no.
func (a *asker) yes(ctx context.Context, text string) (bool, error) {
	s, err := a.ask(ctx, question{text: text, preset: "no", check: oneOf("yes", "no")})
	return s == "yes", err
}

// oneOf takes one of a few words, or its beginning when that is clear.
func oneOf(words ...string) func(string) (string, error) {
	return func(s string) (string, error) {
		var fit []string
		for _, w := range words {
			if strings.HasPrefix(w, strings.ToLower(s)) {
				fit = append(fit, w)
			}
			if w == s {
				return w, nil
			}
		}
		if len(fit) == 1 {
			return fit[0], nil
		}
		return "", fmt.Errorf("%q: answer %s", s, strings.Join(words, ", "))
	}
}

// fromTerminal reports whether a person sits at the other end of in. The null
// device is a character device too, and nobody.
func fromTerminal(in io.Reader) bool {
	f, ok := in.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	null, err := os.Stat(os.DevNull)
	return err != nil || !os.SameFile(info, null)
}
