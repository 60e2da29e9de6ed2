package app

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// longestMeter bounds the name of a meter, which stands in every line of it.
const longestMeter = 60

// checkMeter refuses a name that could not stand in a channel's.
func checkMeter(meter string) error {
	if len(meter) <= longestMeter && strings.TrimSpace(meter) == meter && !strings.ContainsFunc(meter, func(r rune) bool { return r == '/' || !unicode.IsPrint(r) }) {
		return nil
	}
	return &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("meter %q: this cannot name one", meter), Hint: fmt.Sprintf("use letters, digits and spaces, at most %d", longestMeter)}
}

// meterNamed returns the job's roster with the meter on it, and whether that is
// news. What its manual states is taken from the handhelds of the configuration,
// or from an instrument of that name, whose display was read.
func (a *App) meterNamed(j *openJob, meter string, ch capture.ChannelID, q capture.Quantity) (capture.Roster, bool) {
	if meter == "" {
		return capture.Roster{}, false
	}
	if _, known := j.book.Roster().Channel(ch); known {
		return capture.Roster{}, false
	}
	roster := a.rosterOf(j.id)
	name := capture.ByEyeName(meter)
	i := slices.IndexFunc(roster.Instruments, func(in capture.InstrumentInfo) bool { return in.Name == name })
	if i < 0 {
		in := capture.InstrumentInfo{Name: name, Model: handModel}
		in.Title, in.CalibrationDue = a.aboutMeter(meter)
		roster.Instruments = append(roster.Instruments, in)
		i = len(roster.Instruments) - 1
	}
	in := &roster.Instruments[i]
	in.Channels = append(slices.Clone(in.Channels), capture.ChannelInfo{ID: ch, Quantity: q, Accuracy: a.accuracyOf(meter, q)})
	return roster, true
}

// aboutMeter returns what people call a meter and when it is to be calibrated.
func (a *App) aboutMeter(meter string) (title, due string) {
	for _, h := range a.config().Handhelds {
		if strings.EqualFold(h.Name, meter) {
			title, due = h.Title, h.CalibrationDue
		}
	}
	if in := a.info(meter); in.Name != "" {
		title, due = in.Title, in.CalibrationDue
	}
	if title == "" {
		title = meter
	}
	return title + ", read by eye", due
}

// accuracyOf returns what is stated for a meter's quantity; nil: nothing.
func (a *App) accuracyOf(meter string, q capture.Quantity) []capture.Accuracy {
	var channels []capture.ChannelInfo
	for _, h := range a.config().Handhelds {
		if strings.EqualFold(h.Name, meter) {
			channels = h.Channels
		}
	}
	for _, c := range slices.Concat(channels, a.info(meter).Channels) {
		if c.Quantity == q && !c.Setpoint {
			return c.Accuracy
		}
	}
	return nil
}
