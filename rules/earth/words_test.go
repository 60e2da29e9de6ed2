package earth_test

import (
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/rules/earth"
)

// piano is the bench of the words: a meter on an earthed port, a supply whose
// minus is strapped to earth, a thermometer nothing is known of, a logger whose
// channels share a low, and an isolated meter.
func piano() earth.Board {
	info := func(name string, iso capture.Isolation, chs ...capture.ChannelInfo) capture.InstrumentInfo {
		for i := range chs {
			chs[i].ID = capture.ChannelID(name + "/" + string(chs[i].ID))
		}
		return capture.InstrumentInfo{Name: name, Isolation: iso, Channels: chs}
	}
	volts := capture.ChannelInfo{ID: "volts", Quantity: capture.DCVoltage, Group: "input"}
	ohms := capture.ChannelInfo{ID: "ohms", Quantity: capture.Resistance, Group: "input"}
	amps := capture.ChannelInfo{ID: "amps", Quantity: capture.DCCurrent}
	celsius := capture.ChannelInfo{ID: "celsius", Quantity: capture.Temperature}
	own := capture.ChannelInfo{ID: "volts", Quantity: capture.DCVoltage, Setpoint: true}
	return earth.Board{
		Rails: []capture.Rail{
			{Name: "+5 V logic", Nominal: 5, Return: "0 V"},
			{Name: "-12 V audio", Nominal: -12, Return: "0 V"},
			{Name: "+300 V bulk", Nominal: 300, Side: capture.Mains},
		},
		Instruments: []capture.InstrumentInfo{
			info("dmm", capture.Isolation{Port: "earthed"}, volts, ohms, amps),
			info("meter", capture.Isolation{Category: "CAT III 600 V", Port: "isolated", PortVolts: 600}, volts),
			info("supply", capture.Isolation{Port: "earthed", Output: "earthed"}, own),
			info("load", capture.Isolation{Port: "earthed"}, own),
			info("thermo", capture.Isolation{}, celsius),
			info("logger", capture.Isolation{Port: "isolated"}, capture.ChannelInfo{ID: "a", Quantity: capture.DCVoltage}, capture.ChannelInfo{ID: "b", Quantity: capture.DCVoltage}),
		},
	}
}

func place(channel, rail, point, ret string) capture.Placement {
	return capture.Placement{Channel: capture.ChannelID(channel), Rail: rail, Point: point, Return: ret}
}

func TestWordsOfALoop(t *testing.T) {
	minus := place("dmm/volts", "-12 V audio", "", "-12 V audio")
	supply := place("supply/volts", "", "into the stand-in", "")
	for name, c := range map[string]struct {
		standing []capture.Placement
		next     capture.Placement
		want     string // "": it may go on
		advice   string
	}{
		"two earthed lows on two nets": {[]capture.Placement{supply}, minus,
			"dmm's low would be on -12 V audio. dmm's low is tied to earth through its port. supply's minus is tied to earth at its output. supply's minus stands on 0 V. -12 V audio would be shorted to 0 V through earth.",
			"use an instrument whose low is isolated"},
		"the other way round": {[]capture.Placement{minus}, supply,
			"supply's minus would be on 0 V. supply's minus is tied to earth at its output. dmm's low is tied to earth through its port. dmm's low stands on -12 V audio. 0 V would be shorted to -12 V audio through earth.",
			"take dmm/volts off first"},
		"two earthed lows on one net": {[]capture.Placement{supply}, place("dmm/volts", "+5 V logic", "TP5", "0V"), "", ""},
		"one earthed low alone":       {nil, minus, "", ""},
		"an isolated low":             {[]capture.Placement{supply}, place("meter/volts", "-12 V audio", "", "−12 V audio"), "", ""},
		"a load that states nothing": {[]capture.Placement{minus}, place("load/volts", "+5 V logic", "", ""),
			"load's minus would be on 0 V. load's minus is not stated to be isolated, and counts as tied to earth at its output. dmm's low is tied to earth through its port. dmm's low stands on -12 V audio. 0 V would be shorted to -12 V audio through earth.",
			"isolation: {output: floating}"},
		"a bare sensor on a tab": {[]capture.Placement{place("dmm/volts", "+5 V logic", "", "")}, place("thermo/celsius", "", "heat sink", ""),
			"thermo's bare sensor would be on the net at heat sink. thermo's bare sensor is not stated to be isolated, and counts as tied to earth through its port. dmm's low is tied to earth through its port. dmm's low stands on 0 V. the net at heat sink would be shorted to 0 V through earth.",
			"isolation: {sensor: insulated}"},
		"a tab that is at 0 V": {[]capture.Placement{place("dmm/volts", "+5 V logic", "", "")}, place("thermo/celsius", "", "heat sink", "0 V"), "", ""},
		"a shared low": {[]capture.Placement{place("logger/a", "+5 V logic", "", "")}, place("logger/b", "-12 V audio", "", "-12 V audio"),
			"logger's low would be on -12 V audio. logger/a stands on 0 V and shares that low. -12 V audio would be shorted to 0 V through the low that the two channels share.",
			"isolation: {channels: isolated}"},
		"a shared input is freed":        {[]capture.Placement{place("dmm/ohms", "+5 V logic", "", "")}, minus, "", ""},
		"the lead is moved":              {[]capture.Placement{place("dmm/volts", "+5 V logic", "", "")}, minus, "", ""},
		"an ammeter stands in the line":  {[]capture.Placement{supply}, place("dmm/amps", "+5 V logic", "", ""), "dmm's low would be on +5 V logic. dmm's low is tied to earth through its port. supply's minus is tied to earth at its output. supply's minus stands on 0 V. +5 V logic would be shorted to 0 V through earth.", "isolated"},
		"0 V of the mains side is other": {[]capture.Placement{place("logger/a", "+5 V logic", "", "")}, place("logger/b", "", "PS2", "+300 V bulk"), "logger's low would be on +300 V bulk (mains side). logger/a stands on 0 V and shares that low. +300 V bulk (mains side) would be shorted to 0 V through the low that the two channels share.", "take logger/a off"},
		"an earthed low on the mains side": {nil, place("dmm/volts", "+300 V bulk", "", ""),
			"dmm's low would be on 0 V (mains side). dmm's low is tied to earth through its port. The mains side is tied to earth by the supply system. 0 V (mains side) would be shorted to earth.", "isolated"},
		"earth through the neighbour's lead": {[]capture.Placement{supply, place("logger/a", "", "earth bolt", "PE")}, place("logger/b", "-12 V audio", "", "-12 V audio"),
			"logger's low would be on -12 V audio. logger/b shares its low with a lead that stands on earth. supply's minus is tied to earth at its output. supply's minus stands on 0 V. -12 V audio would be shorted to 0 V through earth.", "take supply/volts off"},
		"earth itself": {[]capture.Placement{supply, place("logger/a", "-12 V audio", "", "-12 V audio")}, place("logger/b", "", "earth bolt", "earth"),
			"logger's low would be on earth. The same low is on -12 V audio. supply's minus is tied to earth at its output. supply's minus stands on 0 V. -12 V audio would be shorted to 0 V through earth.", "take supply/volts off"},
	} {
		b := piano()
		b.Placed = c.standing
		loop, refused := b.Loop(c.next)
		if got := strings.Join(loopSteps(loop, refused), " "); got != c.want {
			t.Errorf("%s:\n got %q\nwant %q", name, got, c.want)
		}
		if refused && !strings.Contains(loop.Advice(), c.advice) {
			t.Errorf("%s: advice %q, want %q in it", name, loop.Advice(), c.advice)
		}
	}
}

func loopSteps(l earth.Loop, refused bool) []string {
	if !refused {
		return nil
	}
	return l.Steps()
}

// An insulated sensor is no lead; a meter that no instrument knows has no port.
func TestWhatIsNoLead(t *testing.T) {
	b := piano()
	b.Instruments[4].Isolation.Sensor = "insulated"
	b.Placed = []capture.Placement{place("dmm/volts", "+5 V logic", "", ""), place("thermo/celsius", "", "heat sink", ""), place("pocket/volts", "-12 V audio", "", "-12 V audio"), place("supply/volts", "", "", "")}
	if lows := b.Lows(); len(lows) != 1 || lows[0].String() != "dmm's low" || lows[0].Tie.String() != "earthed" {
		t.Errorf("%+v", lows)
	}
	if l, refused := b.Loop(place("pocket/volts", "-12 V audio", "", "")); refused {
		t.Errorf("a meter without a port: %s", l)
	}
}

func TestACautionIsTwoLines(t *testing.T) {
	if lines := strings.Split(earth.Caution, "\n"); len(lines) != 2 || !strings.Contains(lines[1], "Local codes and licensed practice") {
		t.Errorf("%q", lines)
	}
}
