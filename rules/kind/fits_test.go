package kind

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestFits(t *testing.T) {
	volts := capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage}
	amps := capture.ChannelInfo{ID: "supply/amperes", Quantity: capture.DCCurrent, Setpoint: true}
	out := capture.ChannelInfo{ID: "supply/volts", Quantity: capture.DCVoltage, Setpoint: true}
	heat := capture.ChannelInfo{ID: "thermo/celsius", Quantity: capture.Temperature}
	own := capture.Bounds{Low: 1, High: 2}
	for _, c := range []struct {
		rule capture.Rule
		ch   capture.ChannelInfo
		want string // "": it fits
	}{
		{capture.Rule{Kind: "hot"}, heat, ""},
		{capture.Rule{Kind: "hot"}, amps, "hot judges temperature, and supply/amperes measures DC current"},
		{capture.Rule{Kind: "overcurrent", Limit: 1}, amps, ""},
		{capture.Rule{Kind: "overcurrent", Limit: 1}, volts, "overcurrent judges DC current"},
		{capture.Rule{Kind: "collapse"}, volts, ""},
		{capture.Rule{Kind: "collapse"}, amps, "collapse judges DC voltage"},
		{capture.Rule{Kind: "collapse"}, out, "read-back of its own voltage"},
		{capture.Rule{Kind: "limiting"}, amps, ""},
		{capture.Rule{Kind: "limiting"}, volts, "is a meter's"},
		{capture.Rule{Kind: "band"}, volts, ""},
		{capture.Rule{Kind: "band"}, out, "read-back of its own voltage"},
		{capture.Rule{Kind: "band", Bounds: own}, out, ""},
		{capture.Rule{Kind: "band", Bounds: own}, amps, ""},
		{capture.Rule{Kind: "band"}, amps, "say low and high"},
		{capture.Rule{Kind: "drift"}, volts, ""},
		{capture.Rule{Kind: "drift"}, heat, "say a limit"},
		{capture.Rule{Kind: "drift", Limit: 1}, heat, ""},
		{capture.Rule{Kind: "frozen"}, heat, ""},
		{capture.Rule{Kind: "silent"}, heat, ""},
	} {
		err := Fits(c.rule, c.ch)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s of %s: %v, want %q", c.rule.Kind, c.ch.ID, err, c.want)
		}
	}
	if err := FitsBeside(capture.Rule{Kind: "hot"}, amps); err == nil || FitsBeside(capture.Rule{Kind: "hot"}, heat) != nil {
		t.Errorf("hot against amperes: %v", err)
	}
}

// A kind that asks for a limit reads it.
func TestWhoAsksForALimitReadsIt(t *testing.T) {
	for _, k := range Table() {
		if k.Asks && !k.Limited {
			t.Errorf("%s asks for a limit and reads none", k.Name)
		}
	}
}
