package web

import (
	"strconv"

	"steadyrail/capture"
)

// Planned is a question about the length of a soak, as it was asked by the form
// of the Job page, and its answer.
type Planned struct {
	Asked map[string]string // by [capture.SoakKeys]
	Plan  capture.SoakPlan
	Wrong string // what is wrong with the question; empty: Plan answers it
}

// Asked returns what stands in a field of the form.
func (v *view) Asked(key string) string {
	if v.Planned == nil {
		return ""
	}
	return v.Planned.Asked[key]
}

// SoakHours is what the field of the soak's length begins with: what was
// planned, rounded up to tenths of an hour, else a night.
func (v *view) SoakHours() string {
	if v.Planned == nil || v.Planned.Plan.Planned <= 0 {
		return "8"
	}
	tenths := int64((v.Planned.Plan.Planned + 359) / 360)
	return strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64)
}

// Meters lists the channels that can watch a rail.
func (v *view) Meters() []capture.ChannelID {
	var out []capture.ChannelID
	for _, c := range v.snap.Channels {
		if _, ours := v.snap.Instrument(c.Info.ID.Instrument()); ours && c.Info.Quantity == capture.DCVoltage && !c.Info.Setpoint && c.Info.Aperture > 0 {
			out = append(out, c.Info.ID)
		}
	}
	return out
}
