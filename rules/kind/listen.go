package kind

import "steadyrail/capture"

// Listen tells which channels a kind listens to.
type Listen struct {
	Quantity capture.Quantity // NoQuantity: any
	ReadBack bool             // a supply's own read-back, and nothing else
	Either   bool             // a supply's own read-back as well
	Any      bool             // of a channel that the rule names: whatever it measures
}

// Hears reports whether a channel on the rail is one to listen to.
func (l Listen) Hears(ch capture.ChannelInfo) bool {
	return (l.Quantity == capture.NoQuantity || l.Quantity == ch.Quantity) && (l.Either || l.ReadBack == ch.Setpoint)
}

// HearsOne reports whether the channel that a rule names can be judged by it. A
// supply's read-back of its voltage is held against bounds of its own and never
// against a rail's: 1 A through 0.1 ohm of lead is the whole band of 5 V ± 2 %.
func (l Listen) HearsOne(r capture.Rule, ch capture.ChannelInfo) bool {
	own := l.Either || l.ReadBack || r.Bounds != (capture.Bounds{}) || ch.Quantity != capture.DCVoltage
	if ch.Setpoint && !own {
		return false
	}
	return l.Any || l.Quantity == capture.NoQuantity || l.Quantity == ch.Quantity
}

// Measure is what a kind's limit is written in.
type Measure struct {
	Unit   capture.Unit
	Kelvin bool // a difference of temperatures is meant as well: "K" is read too
	Hourly bool // for each hour: "10 mV/h"
}

// ASCII returns the unit as it is written: "V/h".
func (m Measure) ASCII() string {
	if m.Hourly {
		return m.Unit.ASCII() + "/h"
	}
	return m.Unit.ASCII()
}
