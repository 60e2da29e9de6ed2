package web

import (
	"slices"

	"steadyrail/capture"
)

// Discharging is what is being discharged; nil: nothing.
func (v *view) Discharging() *Discharge { return v.discharge() }

// At says an instant on the clock of the page.
func (v *view) At(at capture.Instant) string { return at.Time().In(v.zone).Format("15:04") }

// Null is the lead resistance with the digits that tips allow.
func (l Leads) Null() string { return glue(capture.Ohm.Text(l.Ohms, 0.001)) }

// Voltmeters lists the channels that can watch a capacitor.
func (v *view) Voltmeters() []capture.ChannelID { return v.channelsOf(capture.DCVoltage, false) }

// Ohmmeters lists the channels that measure resistance.
func (v *view) Ohmmeters() []capture.ChannelID { return v.channelsOf(capture.Resistance, false) }

func (v *view) channelsOf(q capture.Quantity, readBack bool) []capture.ChannelID {
	var out []capture.ChannelID
	for _, c := range v.snap.Channels {
		if c.Info.Quantity == q && c.Info.Setpoint == readBack {
			out = append(out, c.Info.ID)
		}
	}
	return out
}

// LiveSources lists what can prove a meter by its own reading.
func (v *view) LiveSources() []string {
	var out []string
	for _, id := range v.channelsOf(capture.DCVoltage, true) {
		out = append(out, string(id))
	}
	return slices.Compact(out)
}
