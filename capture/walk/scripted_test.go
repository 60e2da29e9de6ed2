package walk

import (
	"math/rand/v2"
	"testing"

	"steadyrail/capture"
)

// Operator times of the keystroke-level model in seconds (Card, Moran and
// Newell, "The keystroke-level model for user performance time with interactive
// systems", CACM 23 (1980) 396; from memory).
const (
	klmK = 0.28 // a key, average typist
	klmP = 1.10 // pointing at a target, on average: here a tip on a test point
	klmH = 0.40 // homing of a hand to another device
	klmM = 1.35 // mental preparation
)

// scripted walks a board with four rails by a hand that does not err.
func scripted(t *testing.T, tau float64) (took []float64) {
	t.Helper()
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, TopVolts: 20, TopOhms: 1e8}
	var rails []trueRail
	for i, ohms := range []float64{0.845, 4700, 5600, 310} {
		s.Rails = append(s.Rails, anyRail(i))
		rails = append(rails, trueRail{ohms: ohms, tau: tau})
	}
	b := newTestBench(rand.New(rand.NewPCG(88, 1)), s, rails)
	tech := &technician{b: b, stats: map[string]int{}}
	for range 12_000 {
		if b.pass(); b.m.state == over {
			break
		}
		tech.look()
	}
	if wrong, _ := b.misfiled(); len(wrong) > 0 || len(b.took) != 8 {
		t.Fatalf("%d figures, misfiled %v", len(b.took), wrong)
	}
	return b.took
}

// At most five seconds a figure, beep to beep in simulated time, on a board whose
// capacitors charge within half a second, against typing each value. A rail
// whose time constant is longer is filed as a lower bound; a short is waited for.
func TestFiveSecondsARail(t *testing.T) {
	took := scripted(t, 0.3)
	slowest, sum := 0.0, 0.0
	for _, s := range took {
		slowest, sum = max(slowest, s), sum+s
	}
	mean := sum / float64(len(took))
	if slowest > 5 {
		t.Errorf("%.1f s: %v", slowest, took)
	}
	// Typing: touch, wait for the figure as the walk does, read it, put a probe
	// down, rail number, Tab, five digits, Enter, take the probe up.
	wait := mean - klmP
	typing := klmP + wait + klmM + klmH + klmM + 8*klmK + klmH
	t.Logf("walk: P + R = %.2f s a figure (mean of 8, slowest %.2f); typed: P + R + M + H + M + 8 K + H = %.2f s", mean, slowest, typing)
	if mean >= typing {
		t.Errorf("typing is quicker: %.2f s against %.2f", typing, mean)
	}
	long := scripted(t, 2.2)
	t.Logf("with 2.2 s of time constant on each rail: %.1f", long)
	if long[4] < 2*2.2 {
		t.Errorf("a short was filed after %.1f s, with more than a tenth to go", long[4])
	}
	for _, s := range long[5:] {
		if s > 5 {
			t.Errorf("far above a short, and yet %.1f s", s)
		}
	}
}

// Both ways round is one more pass, and the volts that aged out are asked again.
func TestProofAgesOut(t *testing.T) {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0)}}
	m, _ := New(s, 1)
	m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Text: "0.0001 V", At: 1}
	if step, more := m.next(1 + capture.Instant(ProofLasts/1000)); !more || step.Quantity != capture.Resistance {
		t.Errorf("within a minute: %v", step)
	}
	if step, _ := m.next(2 + capture.Instant(ProofLasts/1000)); step.Quantity != capture.DCVoltage {
		t.Errorf("after a minute: %v", step)
	}
	if why := m.lapsed; why != "volts again: it was read dead more than 60 s ago" {
		t.Errorf("after a minute: %q", why)
	}
	for _, act := range []capture.Act{{Verb: capture.ActLimits}, {Verb: capture.ActOutput, Text: "on"}, {Verb: capture.ActInput, Text: "on"}} {
		m, _ := New(s, 1)
		m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Text: "0.0001 V", At: 1}
		m.Consume(capture.Record{At: 5, Job: "other", Item: act})
		if step, _ := m.next(6); step.Quantity != capture.DCVoltage {
			t.Errorf("after %s: %v", act.Verb, step)
		}
		if why := m.lapsed; why != "volts again: a supply was set or switched since it was read dead" {
			t.Errorf("after %s: %q", act.Verb, why)
		}
	}
	m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Value: 3.2, Text: "3.2 V", At: 6}
	if _, more := m.next(7); more || m.figures[Step{"rail 0", capture.Resistance, false}].Why != "3.2 V on the rail" {
		t.Errorf("ohms of a charged rail: %+v", m.figures)
	}
}

// Who is sent back to volts is told why, on the screen and by the voice, until the
// rail is in ohms again.
func TestBackToVoltsSaysWhy(t *testing.T) {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0)}}
	m, _ := New(s, 1)
	m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Text: "0.0001 V", At: 1}
	m.ask()
	if v := m.View(); v.In != "ohms" || v.Again != "" {
		t.Fatalf("within a minute: %+v", v)
	}
	late := 2 + capture.Instant(ProofLasts/1000)
	m.Consume(capture.Record{At: late, Item: capture.Reading{Channel: ohmsOn, Quantity: capture.Resistance, Flags: capture.OverRange}})
	m.Consume(capture.Record{At: late, Item: capture.Tick{}})
	v := m.View()
	if v.In != "volts" || v.Note != "volts again: it was read dead more than 60 s ago" || v.Again != v.Note || v.Voice.Say != "rail 0, volts again" {
		t.Errorf("after a minute: %+v", v)
	}
	m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Text: "0.0001 V", At: late}
	m.ask()
	if v := m.View(); v.In != "ohms" || v.Again != "" || v.Note != "" || v.Voice.Say != "rail 0" {
		t.Errorf("proved again: %+v", v)
	}
}

// What the screen says where the meter is in the wrong function, away, or where
// an ohmmeter shows a voltage.
func TestWordsOfTrouble(t *testing.T) {
	s := Setup{Job: "AB-0147", Volts: voltsOn, Ohms: ohmsOn, Rails: []capture.Rail{anyRail(0)}}
	m, _ := New(s, 1)
	read := func(at capture.Instant, r capture.Reading) View {
		r.Channel = m.channel()
		m.Consume(capture.Record{At: at, Job: s.Job, Item: r})
		return m.View()
	}
	if v := read(10, capture.Reading{Flags: capture.Refused}); v.Word != "dial" || v.Note != "set the meter to volts" || v.Key != "" {
		t.Errorf("%+v", v)
	}
	if v := read(20, capture.Reading{Flags: capture.Disconnected}); v.Word != "no reading" || v.Note == "" {
		t.Errorf("%+v", v)
	}
	if v := read(30, capture.Reading{Flags: capture.Held}); v.Word == "touch" {
		t.Errorf("%+v", v)
	}
	read(1_000_000, capture.Reading{})
	if v := read(1_400_000, capture.Reading{}); v.Word != "touch" || v.Key != "I am on it" {
		t.Errorf("lifted: %+v", v)
	}
	if v := read(1_600_000, capture.Reading{Flags: capture.OverRange}); v.Note != aboveRange {
		t.Errorf("overload: %+v", v)
	}
	m.figures[Step{"rail 0", capture.DCVoltage, false}] = Figure{Text: "0.0001 V", At: 1_600_000}
	m.ask()
	read(2_000_000, capture.Reading{Flags: capture.OverRange})
	read(2_400_000, capture.Reading{Flags: capture.OverRange})
	if v := read(2_600_000, capture.Reading{Value: -12}); v.In != "volts" || v.Voice.Sound != "odd" {
		t.Errorf("a resistance below nothing: %+v", v)
	}
	m.Consume(capture.Record{At: 3_000_000, Job: "other", Item: capture.Placement{Channel: voltsOn, Rail: "+5 V"}})
	if v := m.View(); v.Active || v.Note == "" {
		t.Errorf("taken by somebody else: %+v", v)
	}
}

func TestSpoken(t *testing.T) {
	for text, want := range map[string]string{"+5 V logic": "plus 5 volts logic", "−12 V audio": "minus 12 volts audio", "4.67 kΩ": "4.67 kiloohm", "--wait": "minus minus wait"} {
		if got := Spoken(text); got != want {
			t.Errorf("%q is said as %q, not %q", text, got, want)
		}
	}
}
