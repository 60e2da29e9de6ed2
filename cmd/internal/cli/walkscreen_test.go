package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"steadyrail/capture/walk"
)

// Why a press did nothing stands on the screen until the next press, as a line
// where nobody looks; leaving the walk is no error.
func TestWalkScreenSaysWhyAPressDidNothing(t *testing.T) {
	gone := errors.New("the daemon is away")
	var out bytes.Buffer
	w := &walkScreen{out: &out, wide: 80}
	w.pressed(gone) // nothing is drawn before the first view
	if out.Len() > 0 {
		t.Errorf("%q", out.String())
	}
	for _, c := range []struct {
		err  error
		want bool
	}{{gone, true}, {nil, false}, {fmt.Errorf("ask: %w", context.Canceled), false}, {gone, true}, {gone, true}} {
		w.pressed(c.err)
		out.Reset()
		w.show(walk.View{Rail: "+5 V", Word: "touch"})
		if got := strings.Contains(out.String(), "The press did nothing: the daemon is away"); got != c.want {
			t.Errorf("after %v: %q", c.err, out.String())
		}
	}
	w.end()
	out.Reset()
	if w.pressed(nil); out.Len() > 0 {
		t.Errorf("drawn after the end: %q", out.String())
	}
	lines := &walkScreen{out: &out}
	lines.pressed(gone)
	if lines.pressed(nil); out.String() != "The press did nothing: the daemon is away\n" {
		t.Errorf("%q", out.String())
	}
}

// A walk without a screen says in its line why it asks for volts again.
func TestWalkLineSaysWhyVoltsAgain(t *testing.T) {
	var out bytes.Buffer
	w := &walkScreen{out: &out}
	v := walk.View{Rail: "+5 V", In: "volts", Word: "lift", Again: "volts again: it was read dead more than 60 s ago"}
	w.show(v)
	v.Word = "touch"
	w.show(v)
	if got := out.String(); got != "+5 V in volts: lift; volts again: it was read dead more than 60 s ago\n+5 V in volts: touch\n" {
		t.Errorf("%q", got)
	}
}
