package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"steadyrail/capture/walk"
)

// walkScreen shows a walk: in large words where somebody looks, else a line for
// every change. It is safe for concurrent use: keys and the walk come from two
// goroutines.
type walkScreen struct {
	mu    sync.Mutex
	out   io.Writer
	wide  int // columns of the terminal; 0: none
	last  string
	voice walk.Voice
	begun bool
	now   walk.View
	wrong string // why the newest press did nothing
}

func newWalkScreen(s streams) *walkScreen {
	w := &walkScreen{out: s.err}
	if isTerminal(s.err) {
		w.wide = terminalColumns(s.err)
	}
	return w
}

// show draws what is new.
func (w *walkScreen) show(v walk.View) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = v
	if w.wide == 0 {
		w.line(v)
		return
	}
	w.draw(v)
}

// pressed shows why a press did nothing; nil takes what an earlier one did not do
// off again. A walk that is left is no error of its last key.
func (w *walkScreen) pressed(err error) {
	if errors.Is(err, context.Canceled) {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	before := w.wrong
	w.wrong = ""
	if err != nil {
		w.wrong = "The press did nothing: " + err.Error()
	}
	switch {
	case w.wide == 0 && err != nil:
		fmt.Fprintln(w.out, w.wrong)
	case w.wide > 0 && w.begun && w.wrong != before:
		w.draw(w.now)
	}
}

// draw writes the whole screen.
func (w *walkScreen) draw(v walk.View) {
	bell := ""
	if w.begun && v.Voice.Sounds != w.voice.Sounds {
		bell = "\a"
	}
	w.voice, w.begun = v.Voice, true
	var b strings.Builder
	b.WriteString(bell + "\x1b[H\x1b[2J")
	b.WriteString(large(v.Rail, w.wide))
	fmt.Fprintf(&b, "\n%s   %s   %d of %d\n\n", v.In, v.Point, v.Done, v.Of)
	b.WriteString(large(v.Word, w.wide))
	fmt.Fprintf(&b, "\n%s\n\n%s\n", v.Note, v.Last)
	if v.In == "ohms" && v.Leads != "" {
		b.WriteString(v.Leads + "\n")
	}
	for _, c := range v.Cautions {
		b.WriteString(c + "\n")
	}
	if w.wrong != "" {
		b.WriteString("\n" + w.wrong + "\n")
	}
	if v.Key != "" {
		fmt.Fprintf(&b, "\nany key: %s   ", v.Key)
	}
	b.WriteString("x: skip   Backspace: back one   q: end\n")
	// The terminal does not turn a line feed into a new line while keys are read raw.
	_, _ = io.WriteString(w.out, strings.ReplaceAll(b.String(), "\n", "\r\n"))
}

// line tells a change in one line.
func (w *walkScreen) line(v walk.View) {
	text := walkLine(v)
	if text != w.last {
		fmt.Fprintln(w.out, text)
	}
	w.last = text
}

// walkLine is where a walk stands, in one line.
func walkLine(v walk.View) string {
	switch {
	case v.Word == "got it":
		return v.Last + ": got it"
	case v.Rail != "" && v.Again != "" && v.Word == "lift":
		return fmt.Sprintf("%s in %s: %s; %s", v.Rail, v.In, v.Word, v.Again)
	case v.Rail != "":
		return fmt.Sprintf("%s in %s: %s", v.Rail, v.In, v.Word)
	case v.Word == "":
		return "no walk is under way"
	}
	return v.Word
}

// end leaves the screen as it is, with a line of its own.
func (w *walkScreen) end() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.wide > 0 {
		_, _ = io.WriteString(w.out, "\x1b[H\x1b[2J")
	}
	w.begun = false // an answer that comes late is nobody's any more
}
