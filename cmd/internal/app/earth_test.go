package app_test

import (
	"errors"
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

// An instrument's low is one wire however many jobs are open, and earth is one.
func TestEarthOverAllJobs(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, isolation(sim.DMM, capture.Isolation{Port: "earthed"}), isolation(sim.DMM2, capture.Isolation{Port: "earthed"}))
	r.open(jobID)
	ctx := t.Context()
	_, err := r.Place(ctx, jobID, capture.Placement{Channel: "dmm/volts", Rail: minus12, Return: minus12, Hold: capture.Clipped})
	r.must(err)
	r.open(secondJob)
	may, err := r.MayPlace(ctx, secondJob, capture.Placement{Channel: "dmm2/volts", Rail: five})
	if err != nil || may.OK || !strings.Contains(may.Say, minus12+" of job "+jobID) {
		t.Errorf("across jobs: %+v, %v", may, err)
	}
	_, err = r.Enter(ctx, secondJob, dashboards.Typed{Rail: five, Text: "4.98", Meter: sim.DMM2})
	refused(t, "a display of the bench that was read", err, dashboards.Refused, "shorted to "+minus12+" of job "+jobID)
	_, err = r.Enter(ctx, secondJob, dashboards.Typed{Rail: five, Text: "4.98", Meter: "pocket"})
	r.must(err) // a handheld's low is no wire of the bench
}

// Who knows better than a rating says why, and it stands in the record; on the
// mains side nobody does.
func TestVouch(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, isolation(sim.DMM, capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}))
	s := sheet(t, jobID)
	s.Rails = append(s.Rails, capture.Rail{Name: "+350 V plate", Nominal: 350, Target: 350, Bounds: capture.NoBounds()},
		capture.Rail{Name: "+300 V bulk", Nominal: 300, Target: 300, Bounds: capture.NoBounds(), Side: capture.Mains})
	ctx := t.Context()
	_, err := r.OpenJob(ctx, s)
	r.must(err)
	lead := capture.Placement{Channel: "dmm/volts", Rail: "+350 V plate"}
	_, err = r.Place(ctx, "", lead)
	refused(t, "above its rating", err, dashboards.Refused, "rated for 300 V", "--vouch")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActVouch, Subject: "dmm on +350 V plate"})
	refused(t, "for no reason", err, dashboards.Invalid, "why")
	r.act(capture.Act{Verb: capture.ActVouch, Subject: "dmm on +350 V plate", Text: "its sockets say CAT II 600 V, the configuration is old"})
	_, err = r.Place(ctx, "", lead)
	r.must(err)
	for subject, words := range map[string]string{"dmm on +300 V bulk": "mains side", "dmm on +9 V": "+9 V", "scope on +350 V plate": "scope"} {
		_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActVouch, Subject: subject, Text: "I know"})
		var e *dashboards.Error
		if !errors.As(err, &e) || !strings.Contains(e.Error(), words) {
			t.Errorf("%s: %v", subject, err)
		}
	}
	_, err = r.Place(ctx, "", capture.Placement{Channel: "dmm/volts", Rail: "+300 V bulk"})
	refused(t, "the mains side", err, dashboards.Refused, "mains side")
	if strings.Contains(err.Error(), "vouch") {
		t.Errorf("it offers a word where none counts: %v", err)
	}
}
