package walk

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"steadyrail/capture"
)

// oneRail is a walk of one rail with a time constant of 2.4 s, until it is filed in
// ohms.
func oneRail(t *testing.T, ohms float64) (*testBench, *technician, Figure) {
	t.Helper()
	s := Setup{Job: "AB-0147", Rails: []capture.Rail{anyRail(0)}, Volts: voltsOn, Ohms: ohmsOn, TopVolts: 20, TopOhms: 1e8}
	b := newTestBench(rand.New(rand.NewPCG(5, 1)), s, []trueRail{{ohms: ohms, tau: 2.4}})
	tech := &technician{b: b, stats: map[string]int{}}
	return b, tech, untilFiled(t, b, tech)
}

func untilFiled(t *testing.T, b *testBench, tech *technician) Figure {
	t.Helper()
	for range 6_000 {
		if f := b.m.figures[Step{"rail 0", capture.Resistance, false}]; f.Text != "" {
			return f
		}
		b.pass()
		tech.look()
	}
	t.Fatalf("never filed: %+v", b.m.View())
	return Figure{}
}

// What charges for longer than a hand should hold is filed as at least what it
// reads; the pedal waits for the steady one, and a short is always waited for.
func TestStillCharging(t *testing.T) {
	b, tech, f := oneRail(t, 5600)
	if !f.AtLeast || !strings.HasPrefix(f.Text, "at least ") || !strings.HasSuffix(f.Text, " kΩ, still charging") || f.Value > 5600 || f.Value < 2000 {
		t.Fatalf("%+v", f)
	}
	if p, _ := b.places.At(ohmsOn, f.At); p.Why != "walk, still charging: at least what it reads" {
		t.Errorf("the record says %q", p.Why)
	}
	if v := b.m.View(); v.Key != "wait for rail 0" {
		t.Errorf("%+v", v)
	}
	b.carry(b.m.Press(b.now, Short))
	if f = untilFiled(t, b, tech); f.AtLeast || math.Abs(f.Value-5600) > 0.06*5600 {
		t.Errorf("waited for: %+v", f)
	}
	for _, ohms := range []float64{0.8, 6, 20} {
		if _, _, f = oneRail(t, ohms); f.AtLeast || math.Abs(f.Value-ohms-0.2) > 0.06*ohms+0.05 {
			t.Errorf("%g Ω is waited for: %+v", ohms, f)
		}
	}
}

// The pedal asks for the steady figure while the lower bound is being filed: the
// probe stays on.
func TestWaitForIt(t *testing.T) {
	s := Setup{Job: "AB-0147", Rails: []capture.Rail{anyRail(0)}, Volts: voltsOn, Ohms: ohmsOn, TopVolts: 20, TopOhms: 1e8}
	b := newTestBench(rand.New(rand.NewPCG(5, 1)), s, []trueRail{{ohms: 5600, tau: 2.4}})
	tech := &technician{b: b, stats: map[string]int{}}
	for range 2_000 {
		if b.pass(); b.m.charge != (charging{}) {
			break
		}
		tech.look()
	}
	if v := b.m.View(); v.Key != "wait for it" || v.Word != "hold" {
		t.Fatalf("%+v", v)
	}
	b.carry(b.m.Press(b.now, Short))
	if b.m.state != holding || b.m.place != 0 {
		t.Errorf("%+v", b.m.View())
	}
	if f := untilFiled(t, b, tech); f.AtLeast || math.Abs(f.Value-5600) > 0.06*5600 {
		t.Errorf("%+v", f)
	}
}

func TestAtLeast(t *testing.T) {
	for v, want := range map[float64]string{4579.9: "at least 4.57 kΩ, still charging", 99.97: "at least 99.9 Ω, still charging", 310.2: "at least 310 Ω, still charging"} {
		got := strings.ReplaceAll(atLeast(capture.Reading{Quantity: capture.Resistance, Value: v, Resolution: 0.001}), "\u00a0", " ")
		if got != want {
			t.Errorf("%g: %q", v, got)
		}
	}
}
