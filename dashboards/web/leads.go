package web

import (
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// judgedOhms is the newest resistance of a rail as it is judged, without its leads
// where the rule about shorts takes them off, and says so: an alarm about it is
// not to show another figure than the page. leads is "" where nothing is taken off.
func judgedOhms(rv live.RailView) (r capture.Reading, leads string) {
	r = rv.Ohms.Reading
	for _, ver := range rv.Verdicts {
		// digits of another range than the verdict's may be too coarse for the leads
		if ver.Kind != "short" || ver.Leads == 0 || ver.Channel != r.Channel || r.Resolution > ver.Leads || !r.HasValue() {
			continue
		}
		r.Value -= ver.Leads
		return r, "leads of " + capture.Ohm.Text(ver.Leads, r.Resolution) + " taken off"
	}
	return r, ""
}

// joined puts what is said after a comma; either may be empty.
func joined(said, more string) string {
	return glue(strings.Trim(said+", "+more, ", "))
}
