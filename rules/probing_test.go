package rules

import (
	"math/rand/v2"
	"testing"

	"steadyrail/capture"
)

// probing is half an hour of a person's hands: touches, slips, lifts, a steady
// clip on one rail, cold ohms with capacitors that charge, live volts.
func probing(seed uint64, hold capture.Hold) []capture.Record {
	rng := rand.New(rand.NewPCG(seed, 147))
	rails := []capture.Rail{five, dsp, {Name: "+12 V audio", Nominal: 12, Target: 12, Bounds: capture.Bounds{Low: 11.4, High: 12.6}, ShortBelow: 5},
		{Name: "-12 V audio", Nominal: -12, Target: -12, Bounds: capture.Bounds{Low: -12.6, High: -11.4}, ShortBelow: 5}}
	log := opening(nil, rails...)[:3]
	now, end := epoch+10, epoch+30*60*1_000_000
	add := func(item capture.Item) { log = append(log, capture.Record{At: now, Item: item}) }
	pause := func(s float64) { now += capture.Instant(s*1e6) | 1 }
	add(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	isLive := false
	for now < end {
		if !isLive && now > epoch+10*60*1_000_000 {
			isLive = true
			pause(0.1)
			add(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks})
		}
		rail := rails[rng.IntN(len(rails))]
		ohms := !isLive && rng.IntN(2) == 0
		ch := "dmm/volts"
		if ohms {
			ch = "dmm/ohms"
		}
		pause(0.5 + rng.Float64())
		add(capture.Placement{Channel: capture.ChannelID(ch), Rail: rail.Name, Hold: hold})
		contact, farad := 0.3*rng.Float64(), 1e-3
		for k := range 3 + rng.IntN(40) {
			pause(0.18 + 0.04*rng.Float64())
			r := capture.Reading{Channel: capture.ChannelID(ch), Quantity: capture.DCVoltage, Resolution: 0.001}
			slipped := rng.IntN(12) == 0
			switch {
			case ohms && slipped:
				r.Quantity, r.Flags = capture.Resistance, capture.OverRange
			case ohms: // 1 mA charges the rail's capacitor, up to some kilohm beside it
				r.Quantity = capture.Resistance
				r.Value = min(200*float64(k+1)*1e-3/farad*1e-0, 2200) + contact + 0.05*rng.NormFloat64()
			case slipped, !isLive:
				r.Value = 0.004 * rng.NormFloat64()
			default:
				r.Value = rail.Nominal*(1+0.004*rng.NormFloat64()) - contact*0.01
			}
			add(r)
		}
		if rng.IntN(3) == 0 { // lifted, and still read, before it is put elsewhere
			for range rng.IntN(20) {
				pause(0.2)
				r := capture.Reading{Channel: capture.ChannelID(ch), Quantity: capture.DCVoltage, Value: 0.01 * rng.NormFloat64(), Resolution: 0.001}
				if ohms {
					r.Quantity, r.Value, r.Flags = capture.Resistance, 0, capture.OverRange
				}
				add(r)
			}
			pause(0.1)
			add(capture.Placement{Channel: capture.ChannelID(ch)})
		}
	}
	return log
}

func TestHalfAnHourOfProbingRaisesNoAlarm(t *testing.T) {
	for seed := range uint64(8) {
		out, err := Replay(bg, walk(probing(seed, capture.Touched)), 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range out {
			t.Errorf("seed %d: %s %s", seed, tr.At, tr.Say)
		}
	}
	// The same hands with probes that claim to be clipped do raise alarms: the
	// test can fail.
	if out, _ := Replay(bg, walk(probing(1, capture.Clipped)), 0); len(out) == 0 {
		t.Error("even clipped probes raise nothing")
	}
}
