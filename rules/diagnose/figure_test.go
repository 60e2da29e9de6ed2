package diagnose

import (
	"strings"
	"testing"
)

// What a rail reads with a part off and what the sheet leaves there may differ
// because the sheet is of another revision: both readings of that are told, and
// what tells them apart. Without a lift, or when it is short, it is another
// matter.
func TestAFigureOfTheSheet(t *testing.T) {
	g := New(piano(t))
	r := weighed(t, g, "+5 V logic 0.84 ohm", "lift PS2", "+5 V logic 900 ohm", "alone PS2 0.85 ohm")
	said := ""
	for _, c := range r.Contradictions {
		if c.Figure {
			said += c.Say
		}
	}
	for _, want := range []string{"+5 V logic reads 900 ohm with PS2 off", "logic board 220 Ω", "another revision, or something of that is not connected or open", "unplug CN3 and read again"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q does not say %q", said, want)
		}
	}
	for _, log := range [][]string{{"+5 V logic 0.84 ohm", "+5 V logic 110 ohm"}, {"+5 V logic 900 ohm"}} {
		for _, c := range weighed(t, g, log...).Contradictions {
			if c.Figure {
				t.Errorf("%q: %s", log, c.Say)
			}
		}
	}
}

// Lower than the sheet it may leak, and the leak is told; with nothing left to
// take off a board that is well has to tell.
func TestAFigureThatIsTooHigh(t *testing.T) {
	b := piano(t)
	rail := b.Rails[2].Name
	e := Entry{At: Point{Where: Ohms, Subject: rail}, Value: 20, Text: rail + " 20 ohm"}
	off := stand(nil).remove("PS2")
	if say := b.figure(e, off); !strings.Contains(say, "leaks by about ") {
		t.Error(say)
	}
	for _, c := range append(b.removables(), "PS2") {
		off = off.remove(c)
	}
	if say := b.figure(e, off); say != "" && !strings.Contains(say, "that is well, read with the same parts off, tells which") {
		t.Error(say)
	}
	e.Value = 1
	if say := b.figure(e, off); say != "" {
		t.Errorf("a short is no figure of the sheet: %s", say)
	}
}
