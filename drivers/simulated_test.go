package drivers

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// simModel returns the model of one of the simulated instruments.
func simModel(name string) string {
	switch name {
	case sim.Supply:
		return "scpi-supply"
	case sim.Thermo:
		return "scpi-thermometer"
	}
	return "scpi-multimeter"
}

// simulated starts the bench, whose instruments read SCPI with another parser,
// and connects every instrument with the shipped models.
func simulated(t *testing.T, tcp bool) (*sim.Bench, map[string]Instrument) {
	t.Helper()
	b := sim.NewBench(sim.NewClock(capture.Instant(1_700_000_000_000_000), 20), 1, sim.Scenario{TCP: tcp})
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	models := shipped(t)
	out := map[string]Instrument{}
	for name, link := range b.Links() {
		cfg := Config{Name: name, Model: simModel(name), Link: link}
		if name == sim.Supply {
			cfg.Acts, cfg.OnExit = []string{"output", "limits"}, ExitOff
		}
		in, err := Open(cfg, models)
		if err != nil {
			t.Fatal(err)
		}
		if err := in.Connect(t.Context()); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = in.Close() })
		out[name] = in
	}
	return b, out
}

func measure(t *testing.T, in Instrument, channel string) capture.Reading {
	t.Helper()
	r, err := in.Measure(t.Context(), capture.ChannelID(in.Info().Name+"/"+channel))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, r capture.Reading, want, within float64) {
	t.Helper()
	if !r.Good() || math.Abs(r.Value-want) > within {
		t.Errorf("%s: %+v, want %v within %v", what, r, want, within)
	}
}

// eventually waits for what takes bench time.
func eventually(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if done() {
			return
		}
	}
	t.Errorf("waited 30 s: %s", what)
}

// TestSimulatedBench measures everything on real pseudo-terminals and on TCP.
func TestSimulatedBench(t *testing.T) {
	for name, tcp := range map[string]bool{"terminals": false, "tcp": true} {
		t.Run(name, func(t *testing.T) {
			b, in := simulated(t, tcp)
			ctx := t.Context()
			dmm, supply := in[sim.DMM], in[sim.Supply]
			if id := dmm.Info().Identity; id.Serial != "00123457" {
				t.Errorf("identity %+v", id)
			}
			if err := b.Touch(sim.DMM, sim.Point12, capture.Clipped); err != nil {
				t.Fatal(err)
			}
			if err := dmm.Select(ctx, "dmm/ohms"); err != nil {
				t.Fatal(err)
			}
			time.Sleep(20 * time.Millisecond) // 400 ms of bench time: the clip is on
			truth, err := b.TruthOhms(sim.Point12)
			if err != nil {
				t.Fatal(err)
			}
			eventually(t, "the capacitors charge through the meter, then it shows the rail's resistance", func() bool {
				r := measure(t, dmm, "ohms")
				return r.Good() && math.Abs(r.Value-truth) < 0.02*truth+1
			})

			do := func(verb capture.Verb, text string) string {
				said, err := supply.Do(ctx, capture.Act{Verb: verb, Text: text})
				if err != nil {
					t.Fatal(err)
				}
				return said
			}
			if err := dmm.Select(ctx, "dmm/volts"); err != nil {
				t.Fatal(err)
			}
			do(capture.ActLimits, "volts 24, amperes 1.5, over-voltage 26, over-current 2")
			do(capture.ActOutput, "on")
			near(t, "supply volts", measure(t, supply, "volts"), 24, 25)
			time.Sleep(50 * time.Millisecond) // a second of bench time
			volts := measure(t, dmm, "volts")
			truth, _ = b.Truth(sim.Point12)
			near(t, "volts", volts, truth, 0.2)
			if volts.Range != 100 && volts.Range != 10 {
				t.Errorf("range %v", volts.Range)
			}
			near(t, "room", measure(t, in[sim.Thermo], "celsius"), 22.5, 3)

			do(capture.ActLimits, "amperes 0.005")
			time.Sleep(50 * time.Millisecond)
			if r := measure(t, supply, "amperes"); !r.Flags.Has(capture.Limiting) {
				t.Errorf("5 mA of limit, and not limiting: %+v", r)
			}
			if err := supply.Close(); err != nil { // on_exit: off
				t.Error(err)
			}
			eventually(t, "the output goes off and the capacitors empty", func() bool {
				v, err := b.Truth("supply volts")
				return err == nil && v < 1
			})
			if n := b.Resets(); n != 0 {
				t.Errorf("%d resets were sent", n)
			}
		})
	}
}

// TestSimulatedFaults lets every kind of bad answer happen while a clipped
// meter reads a steady rail: each is told as what it is, and no reading that is
// handed out is far from the truth.
func TestSimulatedFaults(t *testing.T) {
	b, in := simulated(t, false)
	dmm := in[sim.DMM]
	if err := b.Touch(sim.DMM, sim.Point12, capture.Clipped); err != nil {
		t.Fatal(err)
	}
	if err := dmm.Select(t.Context(), "dmm/volts"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond)
	for _, c := range []struct {
		fault []string
		want  capture.Flags // 0: a good reading all the same
	}{
		{[]string{"garble", sim.DMM}, capture.Garbled},
		{[]string{"echo", sim.DMM}, capture.Garbled},
		{[]string{"split", sim.DMM}, 0},
		{[]string{"mute", sim.DMM}, capture.TimedOut},
		{[]string{"cut", sim.DMM}, capture.Garbled},
		{[]string{"flood", sim.DMM}, capture.Garbled},
		{[]string{"stale", sim.DMM}, capture.Garbled},
		{[]string{"late", sim.DMM, "1s"}, capture.TimedOut},
	} {
		if err := b.Fault(c.fault[0], c.fault[1:]...); err != nil {
			t.Fatal(err)
		}
		r, err := withDeadline(t, dmm, 600*time.Millisecond)
		for tries := 0; c.fault[0] == "stale" && err == nil && tries < 5; tries++ {
			time.Sleep(30 * time.Millisecond) // as between two polls: the right answer comes behind, and lies there
			_, err = withDeadline(t, dmm, 600*time.Millisecond)
		}
		if got := Flags(err); got != c.want || (err == nil && math.Abs(r.Value) > 1) {
			t.Errorf("%v: %+v, %v; want %v", c.fault, r, err, c.want)
		}
		for range 20 { // and then it finds its place again
			if r, err = withDeadline(t, dmm, 2*time.Second); err == nil {
				break
			}
		}
		if err != nil || math.Abs(r.Value) > 1 {
			t.Errorf("%v: it does not recover: %+v, %v", c.fault, r, err)
		}
	}
	if dmm.Resyncs() == 0 {
		t.Error("no resynchronisation was counted")
	}
	if n := b.Resets(); n != 0 {
		t.Errorf("%d resets were sent", n)
	}
}

func withDeadline(t *testing.T, in Instrument, d time.Duration) (capture.Reading, error) {
	ctx, cancel := context.WithTimeout(t.Context(), d)
	defer cancel()
	return in.Measure(ctx, "dmm/volts")
}

// TestSimulatedReplug: two meters are swapped while the bench runs. Neither
// takes the other's readings for its own.
func TestSimulatedReplug(t *testing.T) {
	b, in := simulated(t, false)
	dmm := in[sim.DMM]
	if err := b.Fault("swap links", sim.DMM, sim.DMM2); err != nil {
		t.Fatal(err)
	}
	_, err := withDeadline(t, dmm, time.Second)
	for range 50 {
		if err == nil || Flags(err).Has(capture.Mismatch) {
			break
		}
		_ = dmm.Drop()
		if err = dmm.Connect(t.Context()); err == nil {
			t.Fatal("it connected to the other meter")
		}
		time.Sleep(10 * time.Millisecond)
	}
	if !errors.Is(err, ErrMismatch) {
		t.Fatalf("got %v", err)
	}
	if err := b.Fault("swap links", sim.DMM, sim.DMM2); err != nil {
		t.Fatal(err)
	}
	for range 50 {
		if err = dmm.Connect(t.Context()); err == nil {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("it does not come back: %v", err)
}
