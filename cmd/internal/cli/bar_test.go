package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func TestBar(t *testing.T) {
	var screen bytes.Buffer
	b := &bar{w: &screen, what: "writing", total: 8}
	out := b.lines(io.Discard)
	fmt.Fprint(out, "a\nb\n")
	if want := "\rwriting  |=======                       |   25 %"; screen.String() != want {
		t.Errorf("%q, want %q", screen.String(), want)
	}
	fmt.Fprint(out, "c\n") // too soon to draw again
	b.begin("", 0)
	b.done = 3
	screen.Reset()
	b.draw()
	if want := "\r  3" + strings.Repeat(" ", 45); screen.String() != want {
		t.Errorf("a shorter line leaves %q, want %q", screen.String(), want)
	}
	gone := errors.New("gone")
	screen.Reset()
	if err := b.finish(gone); err != gone || screen.String() != "\r   \r" {
		t.Errorf("%v, %q", err, screen.String())
	}
	screen.Reset()
	b.total, b.done = 2, 5
	if b.draw(); !strings.HasSuffix(screen.String(), "|==============================|  100 %") {
		t.Errorf("more than all is %q", screen.String())
	}
}

// Where nobody looks there is no bar, and nothing minds.
func TestNoBar(t *testing.T) {
	var log bytes.Buffer
	b := newBar(streams{err: &log}, "writing", 10)
	b.begin("writing", 5)
	fmt.Fprint(b.lines(io.Discard), "a\n")
	b.add(1)
	if err := b.finish(nil); b != nil || err != nil || log.Len() > 0 {
		t.Errorf("%v, %v, %q", b, err, log.String())
	}
}
