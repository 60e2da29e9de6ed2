package discharge

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const meter = capture.ChannelID("dmm/volts")

// bench is a scripted discharge: R and C as the card says, 325 V, read every
// 100 ms.
type bench struct {
	w    Watch
	t    float64 // seconds
	res  float64
	card capture.Discharge
}

func newBench() *bench {
	return &bench{res: 0.001, card: capture.Discharge{What: "C1", Channel: meter, Ohms: 2200, Farads: 1000e-6, Volts: 325, Level: 5}}
}

func (b *bench) at() capture.Instant {
	return capture.InstantOf(time.Date(2027, 1, 15, 14, 0, 0, 0, time.UTC)).Add(time.Duration(b.t * float64(time.Second)))
}

func (b *bench) post(item capture.Item) { b.w.Consume(capture.Record{At: b.at(), Item: item}) }

func (b *bench) prove(reads float64) {
	b.post(capture.Placement{Channel: meter, Point: "known source"})
	b.post(capture.Act{Verb: capture.ActProve, Subject: string(meter), Text: capture.NewMeterProof("a battery", 9, reads, 0.01).Text()})
	b.t++
}

func (b *bench) begin() {
	b.post(capture.Placement{Channel: meter, Point: "C1"})
	b.post(capture.Act{Verb: capture.ActDischarge, Subject: "C1", Text: b.card.Text(), Value: b.card.Volts})
}

// reads follows a law of the time since it is called.
func (b *bench) reads(seconds float64, volts func(t float64) float64) {
	for s := 0.0; s < seconds; s += 0.1 {
		b.t += 0.1
		v := math.Round(volts(s+0.1)/b.res) * b.res
		b.post(capture.Reading{Channel: meter, Quantity: capture.DCVoltage, Value: v, Resolution: b.res, Measured: b.at(), HalfWidth: 10 * time.Millisecond})
	}
}

func (b *bench) state() State { return b.w.State(b.at(), time.UTC) }

func still(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// falls is exp(-t/tau) from v.
func falls(v, tau float64) func(float64) float64 {
	return func(t float64) float64 { return v * math.Exp(-t/tau) }
}

// TestProveTestProve: each of the three steps is missed in turn.
func TestProveTestProve(t *testing.T) {
	run := func(before, test, after bool) State {
		b := newBench()
		if before {
			b.prove(9.05)
		}
		b.begin()
		b.reads(2, still(325))
		length := 16.0
		if !test {
			length = 5
		}
		b.reads(length, falls(325, 2.2))
		if after {
			b.prove(9.05)
		}
		return b.state()
	}
	s := run(true, true, true)
	if !s.Proven || s.Finished != "C1 is below 5 V, measured: 0.216 V at 14:00 by dmm/volts, the meter proved before and after" {
		t.Errorf("%v %q %+v", s.Proven, s.Finished, s.Steps)
	}
	for i, c := range [][3]bool{{false, true, true}, {true, false, true}, {true, true, false}} {
		s := run(c[0], c[1], c[2])
		if s.Proven || s.Steps[i].Done || !strings.Contains(s.Finished, "not proven") {
			t.Errorf("%v: proven %v, %+v, %q", c, s.Proven, s.Steps, s.Finished)
		}
		if strings.Contains(strings.ToLower(s.Say+s.Advice+s.Finished), "safe") {
			t.Errorf("%q says safe", s.Say)
		}
	}
}

// TestPhases: what is said while it falls, and when it parts from R and C.
func TestPhases(t *testing.T) {
	for name, c := range map[string]struct {
		run   func(*bench)
		phase Phase
		says  string
	}{
		"nothing read":         {func(b *bench) {}, Waiting, "no reading yet"},
		"no contact":           {func(b *bench) { b.reads(8, still(325)) }, Stands, "a source is still connected"},
		"just begun":           {func(b *bench) { b.reads(2, still(325)) }, Stands, "put the resistor across it"},
		"as said":              {func(b *bench) { b.reads(2, still(325)); b.reads(3, falls(325, 2.2)) }, Falling, "to 5 V"},
		"twenty per cent more": {func(b *bench) { b.reads(2, still(325)); b.reads(3, falls(325, 2.64)) }, Falling, "to 5 V"},
		"twice the capacitance": {func(b *bench) { b.reads(2, still(325)); b.reads(3, falls(325, 4.4)) }, Slower,
			"more capacitance, or the resistor has no contact"},
		"contact lost half way": {func(b *bench) { b.reads(2, still(325)); b.reads(2, falls(325, 2.2)); b.reads(3, still(131)) }, Slower, "no contact"},
		"worn out":              {func(b *bench) { b.reads(2, still(325)); b.reads(2, falls(325, 0.9)) }, Faster, "less capacitance"},
		"probe lifted":          {func(b *bench) { b.reads(2, still(325)); b.reads(0.3, still(0.001)) }, Below, "below 5 V"},
		"source still on": {func(b *bench) {
			b.reads(2, still(325))
			b.reads(3, falls(325, 2.2))
			b.reads(1, func(t float64) float64 { return 83 + 60*t })
		}, Rising, "source is still connected"},
		"below, not yet held": {func(b *bench) { b.reads(2, still(325)); b.reads(10.5, falls(325, 2.2)) }, Below, "hold the probes still"},
		"negative bus":        {func(b *bench) { b.reads(2, still(-325)); b.reads(3, falls(-325, 2.2)) }, Falling, "to 5 V"},
	} {
		b := newBench()
		b.prove(9)
		b.begin()
		c.run(b)
		if s := b.state(); s.Phase != c.phase || !strings.Contains(s.Say+" "+s.Advice, c.says) {
			t.Errorf("%s: %s, %q (%s)", name, s.Phase, s.Say, s.Advice)
		}
	}
}

// TestLiftedProbeProvesNothing: what falls to nothing at once is a probe that
// was lifted, however long it stays there.
func TestLiftedProbeProvesNothing(t *testing.T) {
	b := newBench()
	b.prove(9)
	b.begin()
	b.reads(2, still(325))
	b.reads(10, still(0.0005))
	b.prove(9)
	if s := b.state(); s.Proven || !strings.Contains(s.Steps[1].Say, "touch it again") {
		t.Errorf("%+v", s.Steps)
	}
	b.begin() // touched again: it was empty indeed
	b.reads(5, still(0.1))
	b.prove(9)
	if s := b.state(); !s.Proven || len(s.Remarks) != 1 || !strings.Contains(s.Remarks[0], "from the first reading") {
		t.Errorf("%+v %v", s.Steps, s.Remarks)
	}
}

// TestAbsorption: charge that comes back is said; above the level it takes the
// proof away.
func TestAbsorption(t *testing.T) {
	b := newBench()
	b.prove(9)
	b.begin()
	b.reads(1, still(325))
	b.reads(15, falls(325, 2.2))
	b.reads(30, func(t float64) float64 { return 0.3 + 3*(1-math.Exp(-t/20)) })
	s := b.state()
	if s.Phase != Held || len(s.Remarks) != 1 || !strings.Contains(s.Remarks[0], "absorption") {
		t.Errorf("%s %v", s.Phase, s.Remarks)
	}
	b.reads(30, func(t float64) float64 { return 3 + t/10 })
	if s := b.state(); s.Phase != Back || s.Proven || s.Held != 0 || !strings.Contains(s.Say, "came back to") {
		t.Errorf("%s %q", s.Phase, s.Say)
	}
	b.reads(8, falls(6, 2.2))
	b.prove(9)
	if s := b.state(); !s.Proven {
		t.Errorf("discharged again: %+v", s.Steps)
	}
}

// TestProofsAge: a proof does not outlive the meter's link or half an hour, and a
// meter that shows nothing on a live source proves nothing.
func TestProofsAge(t *testing.T) {
	for name, between := range map[string]func(*bench){
		"too old":   func(b *bench) { b.t += 31 * 60 },
		"link lost": func(b *bench) { b.post(capture.Act{Verb: capture.ActLinkLost, Subject: "dmm"}) },
		"dead":      func(b *bench) { b.t++; b.prove(0.02) },
	} {
		b := newBench()
		b.prove(9)
		b.t++
		between(b)
		b.t++
		b.begin()
		b.reads(1, still(325))
		b.reads(15, falls(325, 2.2))
		b.prove(9)
		if s := b.state(); s.Proven || s.Steps[0].Done || !s.Steps[1].Done || !s.Steps[2].Done {
			t.Errorf("%s: %+v", name, s.Steps)
		}
	}
}

// TestNothingHoldsWhatIsTakenBack: a reading beyond the range, and a correction that
// says that the probes were elsewhere, leave nothing proven.
func TestNothingHoldsWhatIsTakenBack(t *testing.T) {
	held := func() *bench {
		b := newBench()
		b.prove(9)
		b.begin()
		b.reads(1, still(325))
		b.reads(15, falls(325, 2.2))
		return b
	}
	b := held()
	b.post(capture.Reading{Channel: meter, Quantity: capture.DCVoltage, Flags: capture.OverRange, Measured: b.at()})
	b.prove(9)
	if s := b.state(); s.Proven || s.Held != 0 {
		t.Errorf("beyond the range: %+v", s.Steps)
	}
	for name, c := range map[string]struct {
		to     capture.Placement
		proven bool
	}{
		"elsewhere":     {capture.Placement{Point: "C2"}, false},
		"nowhere":       {capture.Placement{}, false},
		"other return":  {capture.Placement{Point: "C1", Return: "0 V"}, true},
		"another place": {capture.Placement{Point: "C2", Corrects: 1}, true},
	} {
		b := held()
		began := b.state().Begun
		b.prove(9)
		if !b.state().Proven {
			t.Fatal("not proven to begin with")
		}
		if c.to.Channel = meter; c.to.Corrects == 0 {
			c.to.Corrects = began
		}
		b.post(c.to)
		if s := b.state(); s.Proven != c.proven || s.Steps[1].Done != c.proven || strings.Contains(s.Finished, "not on it") == c.proven {
			t.Errorf("%s: proven %v, %+v, %q", name, s.Proven, s.Steps, s.Finished)
		}
	}
}

// TestCoarseMeter: three steps of the display are kept off the level.
func TestCoarseMeter(t *testing.T) {
	b := newBench()
	b.card.Level, b.res = capture.LevelOhms, 0.02
	b.begin()
	b.reads(10, still(0.02))
	if s := b.state(); s.Phase == Held {
		t.Error("a display of 0.02 V with steps of 0.02 V may be 0.05 V and more")
	}
	b.post(capture.Reading{Channel: meter, Quantity: capture.DCVoltage, Flags: capture.OverRange, Measured: b.at()})
	if s := b.state(); !strings.Contains(s.Say, "no reading") {
		t.Errorf("%q", s.Say)
	}
}

// TestAnyFall: whatever R, C, the start and the interval are, a fall by R and C
// is never said to part from them, and a level that was held was really passed.
func TestAnyFall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench()
		b.card.Ohms = rapid.Float64Range(100, 1e5).Draw(t, "R")
		tau := rapid.Float64Range(0.05, 30).Draw(t, "tau")
		b.card.Farads = tau / b.card.Ohms
		b.card.Volts = rapid.Float64Range(20, 400).Draw(t, "V0")
		b.res = rapid.SampledFrom([]float64{0.0001, 0.001, 0.01, 0.1}).Draw(t, "resolution")
		off := rapid.Float64Range(0.8, 1.2).Draw(t, "tolerance of C")
		b.begin()
		b.reads(1, still(b.card.Volts))
		length := rapid.Float64Range(0.5, 8*tau+5).Draw(t, "length")
		b.reads(length, falls(b.card.Volts, tau*off))
		s := b.state()
		if s.Phase == Slower || s.Phase == Faster || s.Phase == Rising {
			t.Fatalf("%s after %.1f s: %+v", s.Phase, length, s.Last)
		}
		if s.Held != 0 && !(s.Last.Volts < b.card.Level) {
			t.Fatalf("held at %g V", s.Last.Volts)
		}
	})
}

// TestKeepsACurve: an hour of watching keeps a bounded curve from its beginning.
func TestKeepsACurve(t *testing.T) {
	b := newBench()
	b.begin()
	b.reads(3600, still(325))
	if s := b.state(); len(s.Points) > mostPoints || len(s.Points) < mostPoints/4 || s.Points[0].At > s.Begun.Add(time.Second) {
		t.Errorf("%d points", len(s.Points))
	}
}
