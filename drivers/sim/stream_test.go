package sim

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func TestHandheldLines(t *testing.T) {
	for want, d := range map[string]display{
		"DC +5.0123 V    AUTO\r\n":      {function: DialVolts, value: 5.0123, top: 6},
		"DC -12.043 V    AUTO HOLD\r\n": {function: DialVolts, value: -12.043, top: 60, hold: true},
		"DC +123.45 mV   AUTO BATT\r\n": {function: DialVolts, value: 0.12345, top: 0.6, low: true},
		"DC    OL   V    AUTO\r\n":      {function: DialVolts, value: 900, top: 600, over: true},
		"AC +001.20 mV   AUTO\r\n":      {function: DialAltVolts, value: 0.0012, top: 0.6},
		"   +000.84 ohm  AUTO\r\n":      {function: DialOhms, value: 0.84, top: 600},
		"   +1.9173 kohm AUTO\r\n":      {function: DialOhms, value: 1917.3, top: 6e3},
		"      OL   Mohm AUTO\r\n":      {function: DialOhms, top: 60e6, over: true},
	} {
		if got := string(d.line()); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestHandheldSegments holds two frames against ones that were put together by
// hand from the data sheet's drawing (from memory), and looks at each glyph.
func TestHandheldSegments(t *testing.T) {
	for want, d := range map[string]display{
		// 5.012 V: AC DC AUTO RS232 / 5 = afgcd / .0 = abcdef with the point / 1 = bc / 2 = abged
		"17 23 3e 4f 5d 60 75 85 9b a0 b0 c0 d4 e0": {function: DialVolts, value: 5.012, top: 6},
		// -0L in ohms times a million, on hold, battery low
		"13 20 30 47 5d 66 78 80 90 a0 b2 c5 d1 e0": {function: DialOhms, top: 60e6, over: true, hold: true, low: true},
	} {
		if got := fmt.Sprintf("% x", d.segments()); got != want {
			t.Errorf("%s\nwant %s", got, want)
		}
	}
	counts := ""
	for _, c := range "0123456789L " {
		n := 0
		for _, on := range drawn(byte(c)) {
			if on {
				n++
			}
		}
		counts += fmt.Sprint(n)
	}
	if counts != "625545637630" {
		t.Errorf("segments of the figures: %s", counts)
	}
}

// TestHandheldReads: the board's own voltage, in bench time.
func TestHandheldReads(t *testing.T) {
	r := newRig(t, 1, Scenario{TCP: true})
	h, err := NewHandheld(r.Bench, HandheldOptions{Form: FormLines, Ask: "D", TCP: true})
	r.must(err)
	defer h.Close()
	r.powerUp()
	reading := func() display {
		t.Helper()
		if _, ok := h.reading(nil); !ok {
			t.Fatal("no reading")
		}
		return h.shown
	}
	r.must(h.Touch(Point12, capture.Clipped))
	r.pass(time.Second)
	near(t, "+12 V", reading().value, r.truth(Point12), 0.1)
	h.Hold(true)
	r.must(h.Touch(PointMinus12, capture.Clipped))
	r.pass(time.Second)
	if d := reading(); !d.hold || d.value < 0 {
		t.Errorf("on hold it still reads: %+v", d)
	}
	h.Hold(false)
	h.Battery(true)
	if d := reading(); !d.low || d.value > -12 {
		t.Errorf("low battery: %+v", d)
	}
	r.must(h.Dial(DialOhms))
	h.Lift()
	r.pass(time.Second)
	if d := reading(); !d.over || d.function != DialOhms {
		t.Errorf("open leads: %+v", d)
	}
	r.must(h.Touch(PointShorted, capture.Clipped))
	r.pass(time.Second)
	near(t, "its leads", reading().value, 0.18, 0.5)
	r.must(h.Dial(DialOff))
	if frame, ok := h.reading(nil); !ok || frame != nil {
		t.Errorf("switched off it says % x", frame)
	}
	if err := h.Dial("sideways"); err == nil || !strings.Contains(err.Error(), "sideways") {
		t.Error(err)
	}
}
