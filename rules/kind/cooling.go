package kind

import (
	"strings"
	"time"

	"steadyrail/capture"
)

// A joint that was soldered is warm: copper reads 0.39 % more for each kelvin,
// leakage doubles every ten, and tin on copper is a thermocouple whose microvolts
// are milliohms at a milliampere (common practice).
const (
	// CoolsFor is when a joint counts as cool whatever it reads (common practice:
	// some minutes).
	CoolsFor = 3 * time.Minute
	// coolApart is from reading to reading of the two that must agree.
	coolApart = 30 * time.Second
	// coolAgrees is by how much, in parts.
	coolAgrees = 0.002
)

// cooling waits after a part was lifted or put back, until two readings agree.
type cooling struct {
	since capture.Instant // 0: nothing was soldered
	part  string          // what was
	sure  bool            // it is on this rail
	ref   capture.Instant // of the reading that the next one is held against
	value float64
}

// take hears of a part. Connectors are unplugged, not unsoldered; a part that is on
// other rails warms none of this one's joints.
func (c *cooling) take(at capture.Instant, act *capture.Act, rail string) {
	if act.Verb != capture.ActLift && act.Verb != capture.ActPutBack || unplugs(act) || !capture.MayBeOn(act.Text, rail) {
		return
	}
	*c = cooling{since: at, part: act.Subject, sure: !capture.MayBeOn(act.Text, "")}
}

// why names what may be warm: where nobody knows on which rails the part is, that is
// said.
func (c *cooling) why() string {
	if c.sure {
		return "the joint of " + c.part + " may be warm"
	}
	return c.part + " may be on this rail, its joint warm"
}

// unplugs reports whether a part comes off without heat: it says so, or its
// designation is a connector's (J and P of IEEE 315, X of IEC 81346, CN by
// common practice).
func unplugs(act *capture.Act) bool {
	if strings.HasPrefix(strings.ToLower(act.Text), "unplugged") {
		return true
	}
	letters := strings.TrimRight(strings.ToUpper(act.Subject), "0123456789")
	switch letters {
	case "J", "P", "X", "CN":
		return letters != strings.ToUpper(act.Subject)
	}
	return false
}

// add takes a reading; two that lie apart and agree end the waiting. The first of
// them is a steady one: what a touch reads while a capacitor charges would never be
// agreed with, and cost half a minute of the one for which the rail is proven dead.
func (c *cooling) add(at capture.Instant, ohms, resolution float64, steady bool) {
	if !c.warm(at) {
		return
	}
	agree := max(float64(2*tips), float64(coolAgrees*abs(ohms)), float64(3*resolution))
	switch {
	case c.ref == 0 && !steady:
	case c.ref == 0:
		c.ref, c.value = at, ohms
	case at.Sub(c.ref) < coolApart:
	case abs(ohms-c.value) <= agree:
		*c = cooling{}
	default:
		c.ref, c.value = at, ohms
	}
}

// lift forgets the reading that was to be agreed with: another touch is another
// contact.
func (c *cooling) lift() { c.ref = 0 }

func (c *cooling) warm(at capture.Instant) bool {
	return c.since != 0 && at.Sub(c.since) < CoolsFor
}
