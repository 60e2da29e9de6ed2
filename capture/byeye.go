package capture

import "strings"

// byEye is the instrument of values that were read from a display and typed;
// the meter's name stands before it when it was said.
const byEye = "by eye"

// ByEyeName is how the record names a meter whose display was read: "pocket by
// eye", or "by eye" when nobody said which it was.
func ByEyeName(meter string) string {
	if meter == "" {
		return byEye
	}
	return meter + " " + byEye
}

// ByEyeChannel is the channel that values read by eye are filed under: one for
// each meter, unit and job, for a channel serves one job at a time.
func ByEyeChannel(meter string, q Quantity, job string) ChannelID {
	return ChannelID(ByEyeName(meter) + "/" + q.Unit().Plural() + " " + job)
}

// ByEyeMeter returns the meter behind such a channel, empty when it was not
// said, and whether it is one.
func (c ChannelID) ByEyeMeter() (meter string, ok bool) {
	name := c.Instrument()
	if name == byEye {
		return "", true
	}
	if meter, ok = strings.CutSuffix(name, " "+byEye); !ok {
		return "", false
	}
	return meter, true
}
