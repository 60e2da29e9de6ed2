package app_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// TestDischarge: prove on the supply's own reading, test, prove; what was
// measured stands in the record, and the watch survives a restart.
func TestDischarge(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.powered()
	var source string
	for _, c := range r.Snapshot().Channels {
		if c.Info.Setpoint && c.Info.Quantity == capture.DCVoltage {
			source = string(c.Info.ID)
		}
	}
	r.must(r.bench.Touch(sim.DMM, sim.Point24, capture.Touched))
	dmm := string(volts(sim.DMM))
	ask := dashboards.DischargeAsk{Channel: dmm, What: "the input capacitor", Ohms: "2,2 k", Farads: "220u", Volts: "24", Level: "touch", Source: source}
	prove := func() {
		t.Helper()
		res, err := r.ProveMeter(t.Context(), "", ask)
		if err != nil || !strings.Contains(res.Say, "proved: it read") || strings.Contains(res.Say, "NOT") {
			t.Fatal(res.Say, err)
		}
	}
	r.readings(capture.ChannelID(source), 1)
	prove()
	res, err := r.BeginDischarge(t.Context(), "", ask)
	if err != nil || !strings.Contains(res.Say, "Discharge of the input capacitor begun") {
		t.Fatal(res.Say, err)
	}
	r.until("it is held below the level", func(live.Snapshot) bool { return r.Cold("").Discharge.Phase == "held" })
	if d := r.Cold("").Discharge; d.Proven || !d.Steps[0].Done || !d.Steps[1].Done {
		t.Errorf("%+v", d)
	}
	r.stop()
	r.start()
	r.readings(capture.ChannelID(source), 2)
	prove()
	if d := r.Cold("").Discharge; !d.Proven || d.Held == 0 {
		t.Errorf("after a restart: %+v", d)
	}
	res, err = r.EndDischarge(t.Context(), "")
	if err != nil || !strings.Contains(res.Say, "is below 60 V, measured") || !strings.Contains(res.Say, "proved before and after") {
		t.Error(res.Say, err)
	}
	_, err = r.EndDischarge(t.Context(), "")
	refused(t, "ended twice", err, dashboards.Conflict, "none is under way")
}

// TestDischargeAsksForSense: the wrong function, missing and absurd figures are
// refused with what to do, and nothing is placed or recorded.
func TestDischargeAsksForSense(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open(jobID)
	good := dashboards.DischargeAsk{Channel: string(volts(sim.DMM)), What: "C1", Ohms: "2.2k", Farads: "220u", Volts: "325"}
	for what, c := range map[string]struct {
		change func(*dashboards.DischargeAsk)
		kind   dashboards.Kind
		words  string
	}{
		"ohms":        {func(a *dashboards.DischargeAsk) { a.Channel = "dmm/ohms" }, dashboards.Invalid, "DC volts"},
		"no meter":    {func(a *dashboards.DischargeAsk) { a.Channel = "" }, dashboards.Invalid, "no meter"},
		"other meter": {func(a *dashboards.DischargeAsk) { a.Channel = "dmm9/volts" }, dashboards.NotFound, "no channel"},
		"zero farad":  {func(a *dashboards.DischargeAsk) { a.Farads = "0" }, dashboards.Invalid, "capacitance is zero"},
		"minus ohm":   {func(a *dashboards.DischargeAsk) { a.Ohms = "-5" }, dashboards.Invalid, "cannot be negative"},
		"no figure":   {func(a *dashboards.DischargeAsk) { a.Volts = "lots" }, dashboards.Invalid, "voltage to begin with"},
		"two ways":    {func(a *dashboards.DischargeAsk) { a.Volts = "1,234" }, dashboards.Invalid, "1,234"},
		"zero watt":   {func(a *dashboards.DischargeAsk) { a.Watts = "0" }, dashboards.Invalid, "rating"},
		"level":       {func(a *dashboards.DischargeAsk) { a.Level = "safe" }, dashboards.Invalid, "touch (60 V)"},
		"no name":     {func(a *dashboards.DischargeAsk) { a.What = "" }, dashboards.Invalid, "name the capacitor"},
		"no rail":     {func(a *dashboards.DischargeAsk) { a.Rail = "+9 V" }, dashboards.NotFound, "there is no rail"},
	} {
		ask := good
		c.change(&ask)
		_, err := r.BeginDischarge(t.Context(), "", ask)
		refused(t, what, err, c.kind, c.words)
	}
	for what, c := range map[string]struct {
		source, battery string
		kind            dashboards.Kind
	}{
		"nothing": {"", "", dashboards.Invalid}, "both": {"supply", "9", dashboards.Invalid}, "no output": {"mains", "", dashboards.NotFound},
		"flat": {"", "0.3", dashboards.Invalid}, "no battery": {"", "400", dashboards.Invalid}, "off": {"supply", "", dashboards.Refused},
	} {
		ask := good
		ask.Source, ask.Battery = c.source, c.battery
		_, err := r.ProveMeter(t.Context(), "", ask)
		refused(t, what, err, c.kind)
	}
	ask := good
	ask.Source = "mains"
	_, err := r.ProveMeter(t.Context(), "", ask)
	refused(t, "no output", err, dashboards.NotFound, "these do: supply")
	if r.Cold("").Discharge != nil {
		t.Error("something was begun")
	}
}

// TestMeterThatShowsNothing is recorded as not proved.
func TestMeterThatShowsNothing(t *testing.T) {
	t.Parallel()
	r := newRig(t, 20)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActNull, Subject: "dmm/ohms", Value: 0.2})
	res, err := r.ProveMeter(t.Context(), "", dashboards.DischargeAsk{Channel: string(volts(sim.DMM)), Battery: "9"})
	if err != nil || !strings.Contains(res.Say, "NOT proved") {
		t.Error(res.Say, err)
	}
	if l := r.Cold("").Leads; len(l) != 1 || !l[0].Valid || l[0].N != 1 {
		t.Errorf("%+v", l)
	}
}
