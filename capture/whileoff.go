package capture

import "strings"

// whileOff stands in the text of [ActLimits] behind the figures where the output was
// asked before and read back as off: such a setting energises nothing.
const whileOff = "output off"

// WhileOff adds to limits that were set that the output was off.
func WhileOff(limits string) string { return limits + ", " + whileOff }

// SetWhileOff reports whether limits say that they were set while the output was off.
func SetWhileOff(limits string) bool {
	for part := range strings.SplitSeq(limits, ",") {
		if strings.TrimSpace(part) == whileOff {
			return true
		}
	}
	return false
}
