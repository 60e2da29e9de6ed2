package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// isolation states the isolation of one instrument anew.
func isolation(name string, iso capture.Isolation) func(*configs.Config) {
	return func(c *configs.Config) {
		for i := range c.Instruments {
			if c.Instruments[i].Name == name {
				c.Instruments[i].Isolation = iso
			}
		}
	}
}

// An earthed low on one net keeps the next earthed lead off every other: touched
// or clipped, meter or bare sensor, and by a correction too.
func TestEarthedLowsShareOneNet(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, isolation(sim.DMM, capture.Isolation{Port: "earthed"}), isolation(sim.DMM2, capture.Isolation{}))
	r.open(jobID)
	ctx := t.Context()
	first := capture.Placement{Channel: "dmm/volts", Rail: minus12, Return: minus12, Hold: capture.Clipped}
	res, err := r.Place(ctx, "", first)
	r.must(err)
	for name, p := range map[string]capture.Placement{
		"touched":            {Channel: "dmm2/volts", Rail: five},
		"clipped":            {Channel: "dmm2/volts", Rail: five, Hold: capture.Clipped},
		"a bare sensor":      {Channel: "thermo/celsius", Point: "heat sink"},
		"return by a number": {Channel: "dmm2/volts", Rail: five, Return: "1"},
	} {
		_, err = r.Place(ctx, "", p)
		refused(t, name, err, dashboards.Refused, minus12, "would be shorted to", "through earth", "isolation: {port: isolated}", "Local codes and licensed practice")
		may, err := r.MayPlace(ctx, "", p)
		if err != nil || may.OK || len(may.Loop) < 4 || len(may.Cautions) != 2 || may.Advice == "" {
			t.Errorf("%s: %+v, %v", name, may, err)
		}
	}
	for _, p := range []capture.Placement{
		{Channel: "dmm2/volts", Rail: five, Return: minus12}, {Channel: "dmm3/volts", Rail: five}, {Channel: "supply/volts", Point: "into the stand-in"},
	} {
		if may, err := r.MayPlace(ctx, "", p); err != nil || !may.OK || may.Say == "" {
			t.Errorf("%+v: %+v, %v", p, may, err)
		}
	}
	_, err = r.Place(ctx, "", capture.Placement{Channel: "dmm2/volts", Rail: five, Return: minus12})
	r.must(err)
	first.Corrects, first.Return, first.Why = res.At, "0 V", "the leads are the other way"
	_, err = r.Place(ctx, "", first)
	refused(t, "a correction that says where it is now", err, dashboards.Refused, "0 V would be shorted to -12 V audio")
	lows := r.Lows("")
	if len(lows) != 2 || lows[0].Words() != "dmm/volts: its low is on −12 V audio, tied to earth." || lows[0].Shorted {
		t.Errorf("%+v", lows)
	}
	_, err = r.MayPlace(ctx, "", capture.Placement{Channel: "scope/volts"})
	refused(t, "no such channel", err, dashboards.NotFound, "scope/volts")
}

// A loop from before the instruments were known for what they are keeps the
// output off; an output that floats beside an earthed port makes none.
func TestNoOutputIntoALoop(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open(jobID)
	ctx := t.Context()
	for _, p := range []capture.Placement{{Channel: "supply/volts", Point: "into the stand-in"}, {Channel: "dmm/volts", Rail: minus12, Return: minus12}} {
		_, err := r.Place(ctx, "", p)
		r.must(err)
	}
	power := dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply}
	if _, err := r.Permit(ctx, "", power); err == nil || strings.Contains(err.Error(), "shorted") {
		t.Errorf("no loop stands yet: %v", err)
	}
	r.stop()
	isolation(sim.DMM, capture.Isolation{Port: "earthed"})(&r.cfg)
	isolation(sim.Supply, capture.Isolation{Port: "isolated", Output: "earthed"})(&r.cfg)
	r.start()
	_, err := r.Permit(ctx, "", power)
	refused(t, "an output into a loop", err, dashboards.Refused, "supply's minus", "0 V would be shorted to -12 V audio through earth", "Local codes")
	if _, err = r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"}); err != nil && strings.Contains(err.Error(), "shorted") {
		t.Errorf("off is always allowed: %v", err)
	}
	lows := r.Lows("")
	if len(lows) != 2 || !lows[0].Shorted || !lows[1].Shorted {
		t.Errorf("%+v", lows)
	}
}

// On the mains side the isolation must reach the rail's volts, port included, and
// the first placement there says two cautions.
func TestRatedForTheMainsSide(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, isolation(sim.DMM2, capture.Isolation{Category: "CAT II 150 V", Port: "isolated", PortVolts: 300}), isolation(sim.DMM3, capture.Isolation{Category: "CAT III 600 V", Port: "isolated"}))
	s := sheet(t, jobID)
	s.Rails[1].Side = capture.Mains
	_, err := r.OpenJob(t.Context(), s)
	r.must(err)
	for ch, want := range map[capture.ChannelID]string{"dmm2/volts": "CAT II 150 V", "dmm3/volts": "is not stated"} {
		_, err = r.Place(t.Context(), "", capture.Placement{Channel: ch, Rail: twelve})
		refused(t, string(ch), err, dashboards.Refused, twelve, "needs CAT II 300 V", want, "port_volts")
	}
	res, err := r.Place(t.Context(), "", capture.Placement{Channel: "dmm/volts", Rail: twelve})
	r.must(err)
	if !strings.Contains(res.Say, "hazardous live") || !strings.Contains(res.Say, "peak") {
		t.Errorf("no caution: %q", res.Say)
	}
	res, err = r.Place(t.Context(), "", capture.Placement{Channel: "dmm/volts", Rail: twelve, Point: "C5"})
	r.must(err)
	if strings.Contains(res.Say, "hazardous live") {
		t.Errorf("the caution comes twice: %q", res.Say)
	}
}
