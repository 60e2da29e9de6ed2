package sim

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
)

// A switcher behind a resistance has no operating point above Vs²/(4 P): the
// two cases computed by hand, and the double root at the limit itself.
func TestConstantPowerLimit(t *testing.T) {
	for _, tc := range []struct{ vs, p, limit float64 }{{12, 10, 3.6}, {325, 50, 528.125}} {
		if _, ok := inputVolts(tc.vs, tc.limit*1.001, tc.p); ok {
			t.Errorf("%g V, %g W, just above %g ohm: an operating point", tc.vs, tc.p, tc.limit)
		}
		v, ok := inputVolts(tc.vs, tc.limit, tc.p)
		if !ok {
			t.Fatalf("%g V, %g W, %g ohm: none", tc.vs, tc.p, tc.limit)
		}
		near(t, "at the limit half the source remains", v, tc.vs/2, 1e-6)
		v, _ = inputVolts(tc.vs, tc.limit/2, tc.p)
		near(t, "Kirchhoff", tc.vs-tc.limit/2*tc.p/v, v, 1e-9)
	}
}

// Two warmings side by side against the closed form, and the same from any
// step length.
func TestHeatStepResponse(t *testing.T) {
	const watts = 1.3
	for _, dt := range []float64{0.01, 1, 60} {
		var h heat
		for tt := dt; tt <= 3600; tt += dt {
			h.step(watts, dt)
			if math.Mod(math.Round(tt*100), 60000) != 0 {
				continue
			}
			want := watts * (quickPerWatt*(1-math.Exp(-tt/120)) + slowPerWatt*(1-math.Exp(-tt/1500)))
			near(t, "rise", h.rise(), want, 1e-6)
		}
	}
}

func settleSource(s *source, v, g, drain float64) float64 {
	for range 20000 {
		v = s.drive(v, g, drain, bulkFarads, 500e-6)
	}
	return v
}

// The supply's leads and a resistor divide the voltage; below Vset/Ilimit it
// changes to constant current, and the two meet at the crossover.
func TestSupplyCrossover(t *testing.T) {
	for _, tc := range []struct {
		name    string
		ohms    float64
		volts   float64 // at the load
		amps    float64
		limited bool
	}{
		{"constant voltage", 24, 24 * 24 / (24 + supplyLeads), 24 / (24 + supplyLeads), false},
		{"just above crossover", 12.1, 24 * 12.1 / (12.1 + supplyLeads), 24 / (12.1 + supplyLeads), false},
		{"just below crossover", 11.9, 2 * 11.9, 2, true},
		{"a short", 0.84, 2 * 0.84, 2, true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := source{on: true, vset: 24, iset: 2, gain: 1}
			v := settleSource(&s, 0, 1/tc.ohms, 0)
			near(t, "volts", v, tc.volts, 1e-3)
			near(t, "amperes", s.i, tc.amps, 1e-3)
			if s.limiting != tc.limited {
				t.Errorf("limiting: %v", s.limiting)
			}
			near(t, "terminals", s.v, v+s.i*supplyLeads, 1e-9)
		})
	}
}

func TestSupplyChargesABulkCapacitorAtItsLimit(t *testing.T) {
	s := source{on: true, vset: 24, iset: 0.5, gain: 1}
	v, n := 0.0, 0
	for ; v < 12 && n < 1000; n++ {
		v = s.drive(v, 0, 0, bulkFarads, 500e-6)
	}
	// Q = C V = I t
	near(t, "time to 12 V", float64(n)*500e-6, bulkFarads*12/0.5, 1e-3)
}

func TestSupplyProtection(t *testing.T) {
	s := source{on: true, vset: 24, iset: 5, gain: 1, ovp: 20, ovpOn: true}
	settleSource(&s, 0, 0.01, 0)
	if s.on || s.condition() != bitOverVolt {
		t.Errorf("over-voltage: on %v, condition %#x", s.on, s.condition())
	}
	s = source{on: true, vset: 24, iset: 5, gain: 1, ocp: 1, ocpOn: true}
	settleSource(&s, 0, 1.0/10, 0)
	if s.on || s.condition() != bitOverAmps {
		t.Errorf("over-current: on %v, condition %#x", s.on, s.condition())
	}
	s = source{on: true, vset: 24, iset: 5, gain: 1, ocp: 3, ocpOn: true}
	settleSource(&s, 24, 1.0/10, 0)
	if !s.on {
		t.Error("2.4 A tripped a level of 3 A")
	}
}

// The ohmmeter charges the rail: V = I R (1 - e^(-t/RC)).
func TestOhmmeterCreepsAsTheCapacitorCharges(t *testing.T) {
	r := newRig(t, 3, Scenario{})
	r.setUp(DMM, "CONF:RES 10000", "RES:NPLC 1", "ZERO:AUTO OFF")
	r.must(r.Touch(DMM, Point12, capture.Clipped))
	contact := begin.Add(10 * time.Millisecond)
	tau := rail12Ohms * rail12Farads
	r.pass(30 * time.Millisecond)
	for range 12 {
		v := r.read(DMM, "READ?")
		// The reading is the mean over an aperture that ended answerLag ago.
		mid := r.clock.Now().Sub(contact).Seconds() - answerLag.Seconds() - 0.010
		near(t, "creep", v, rail12Ohms*(1-math.Exp(-mid/tau))+0.18, 12)
		r.pass(700 * time.Millisecond)
	}
	want, err := r.TruthOhms(Point12)
	r.must(err)
	r.pass(20 * time.Second)
	near(t, "settled", r.read(DMM, "READ?"), want+0.18, 1)
	// Off again it forgets with the same time constant.
	r.must(r.Lift(DMM))
	before := r.truth(Point12)
	r.pass(time.Duration(tau * float64(time.Second)))
	near(t, "left after one time constant", r.truth(Point12)/before, math.Exp(-1), 0.01)
}

// The cold walk of the job: the short, the acquitted load, the convicted
// converter. Values from the parallel sums.
func TestShortIsFoundByLifting(t *testing.T) {
	r := newRig(t, 5, Scenario{})
	r.setUp(DMM, "CONF:RES 100", "RES:NPLC 1")
	ohms := func(point string, hold capture.Hold) float64 {
		r.must(r.Touch(DMM, point, hold))
		r.pass(4 * time.Second)
		return r.read(DMM, "READ?")
	}
	leads := ohms(PointShorted, capture.Clipped)
	near(t, "leads", leads, 0.18, 0.01)
	whole := 1 / (1/0.845 + 1/board5Ohms + 1/logicBoardOhms)
	found := ohms(Point5, capture.Clipped)
	near(t, "short on +5 V", found-leads, whole, 0.008)
	r.must(r.Unplug(CN3))
	loadOut := ohms(Point5, capture.Clipped)
	if share := (1/(found-leads) - 1/(loadOut-leads)) * (found - leads); share > 0.05 {
		t.Errorf("CN3 took %.1f %% of the conductance with it", 100*share)
	}
	r.must(r.Unplug(PS2))
	near(t, "PS2's own pin off the board", ohms(PointPS2, capture.Clipped)-leads, 0.845, 0.008)
	r.setUp(DMM, "RES:RANG:AUTO ON")
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	// In auto range the charge from a higher test current has to run off.
	steady := func() (v float64) {
		for range 60 {
			v = r.read(DMM, "READ?")
			r.pass(300 * time.Millisecond)
		}
		return v
	}
	near(t, "the rail without it", steady(), board5Ohms, 5)
	r.must(r.Plug(CN3))
	near(t, "load back", steady(), 1/(1/board5Ohms+1/logicBoardOhms), 1)
}

func TestHandHeldProbesScatter(t *testing.T) {
	r := newRig(t, 7, Scenario{})
	r.setUp(DMM, "CONF:RES 100", "RES:NPLC 1")
	spread := func(hold capture.Hold) float64 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for range 30 {
			r.must(r.Touch(DMM, Point5, hold))
			r.pass(time.Second)
			v := r.read(DMM, "READ?")
			lo, hi = min(lo, v), max(hi, v)
		}
		return hi - lo
	}
	if s := spread(capture.Touched); s < 0.010 || s > 0.100 {
		t.Errorf("30 touches spread over %.1f mohm", 1000*s)
	}
	if s := spread(capture.Clipped); s > 0.008 {
		t.Errorf("30 clips spread over %.1f mohm", 1000*s)
	}
}

func TestOhmsOnALiveRailIsNonsense(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	r.powerUp()
	r.setUp(DMM, "CONF:RES 10000")
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	r.pass(time.Second)
	// 5 V over the range's 100 µA.
	if text := r.say(DMM, "READ?"); text != overloadText {
		t.Errorf("10 kohm range on 5 V: %s", text)
	}
	r.must(r.Touch(DMM, PointMinus12, capture.Clipped))
	if text := r.say(DMM, "READ?"); text != overloadText && text != "-9.90000000E+37" {
		t.Errorf("on -12 V: %s", text)
	}
}

func TestLiftedProbe(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	r.powerUp()
	r.setUp(DMM, "CONF:VOLT 10", "VOLT:NPLC 1", "ZERO:AUTO OFF")
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	r.pass(time.Second)
	near(t, "on the rail", r.read(DMM, "READ?"), r.truth(Point5), 0.002)
	r.must(r.Lift(DMM))
	r.pass(50 * time.Millisecond)
	near(t, "10 megaohm, lifted", r.read(DMM, "READ?"), 0, 1e-3)
	r.setUp(DMM, "VOLT:IMP:AUTO ON")
	r.must(r.Touch(DMM, Point5, capture.Clipped))
	r.pass(time.Second)
	r.must(r.Lift(DMM))
	r.pass(3 * time.Second)
	near(t, "above 10 gigaohm it keeps 1/e for 3 s", r.read(DMM, "READ?")/r.truth(Point5), math.Exp(-1), 0.01)
	r.setUp(DMM, "CONF:RES")
	r.must(r.Lift(DMM))
	if text := r.say(DMM, "READ?"); text != overloadText {
		t.Errorf("open leads: %s", text)
	}
}
