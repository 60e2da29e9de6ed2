package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// collapse judges whether a rail that stood in its band fell out of it far:
// by more than the band's own width below the edge, or below the magnitude at
// which the set resets. A set of 5 V logic reboots at 7 to 12 % below nominal,
// so a fall of a fifth would come too late.
//
// What it fell from is the median of the last 30 s in band, frozen from the
// first reading out of it: a slow sag must not drag its own reference down.
// It ends when the rail is back in its band. How long it lasted is said as
// bounds: from the last good reading to the first good one (outer), and from
// the first low one to the last low one (inner).
type collapse struct {
	base
	limit    float64 // the magnitude below which the rail has collapsed
	steady   *trend.SlidingMedian
	keptAt   capture.Instant // newest reading in it
	inBandAt capture.Instant
	inBand   capture.Reading // newest reading in band since armed; inBandAt 0: none
	from     float64         // frozen reference
	down     bool
	firstLow capture.Reading
	firstAt  capture.Instant
	lastLow  capture.Reading
	lowAt    capture.Instant // of lastLow
	lowest   float64
	lowestAt capture.Instant
	before   capture.Reading // last good one before the fall
	beforeAt capture.Instant
	count    int
}

// CollapseReference is the span of the reference median.
const CollapseReference = 30 * time.Second

func impliedCollapse(r capture.Rail) (capture.Rule, bool) {
	rule := impliedRule("collapse", r, capture.Urgent)
	rule.Latch = true
	return rule, true
}

func newCollapse(c Case) Judge {
	return &collapse{base: base{Case: c}, limit: CollapseLimit(c.Rule, c.Rail), steady: trend.NewSlidingMedian(orDefault(c.Rule.Window, CollapseReference))}
}

func (c *collapse) Sit(at capture.Instant, seat Seat) { c.base.Sit(at, seat); c.forget() }
func (c *collapse) Blind(capture.Instant)             { c.lastAt = 0; c.forget() }
func (c *collapse) forget()                           { c.steady.Reset(); c.inBandAt, c.down = 0, false }

func (c *collapse) Arm(at capture.Instant, a Arming) {
	if a.Armed != c.arming.Armed {
		c.forget()
	}
	if a.Armed && !c.arming.Armed {
		c.count = 0
	}
	c.base.Arm(at, a)
}

// CollapseLimit is the magnitude below which a rail has collapsed, by its rule;
// a rule without a limit takes it from the rail.
func CollapseLimit(rule capture.Rule, rail capture.Rail) float64 {
	if rule.Limit != 0 {
		return abs(rule.Limit)
	}
	s := rail.Sized(rail.Nominal)
	limit := float64(FedBelow * s.Value) // no low edge is declared: where missing begins
	if s.Bounds.HasLow() {
		limit = s.Bounds.Low - float64(2*rail.HalfBand())
	}
	return max(limit, rail.ResetBelow)
}

func (c *collapse) Read(at capture.Instant, r *capture.Reading) {
	if !c.keep(at, r) || !c.arming.Armed {
		return
	}
	switch v := c.Rail.Sized(r.Value).Value; {
	case c.Rail.Bounds.Contains(r.Value):
		c.remember(at, r.Value)
		c.inBand, c.inBandAt, c.down = *r, at, false
	case v < c.limit && c.inBandAt != 0:
		c.fall(at, r, v)
	}
}

// remember takes a reading in band into the reference: of fast ones some five
// hundred to the window, for a median of more is no better and costs more.
func (c *collapse) remember(at capture.Instant, v float64) {
	if c.steady.Len() > 0 && at.Sub(c.keptAt) < c.steadySpan()/512 {
		return
	}
	c.keptAt = at
	c.steady.Add(at, v)
}

func (c *collapse) steadySpan() time.Duration { return orDefault(c.Rule.Window, CollapseReference) }

func (c *collapse) fall(at capture.Instant, r *capture.Reading, v float64) {
	if !c.down {
		c.down, c.count = true, c.count+1
		c.from, _ = c.steady.Median()
		c.firstLow, c.firstAt = *r, at
		c.before, c.beforeAt = c.inBand, c.inBandAt
		c.lowest, c.lowestAt = r.Value, at
	}
	if v < c.Rail.Sized(c.lowest).Value {
		c.lowest, c.lowestAt = r.Value, at
	}
	c.lastLow, c.lowAt = *r, at
}

func (c *collapse) Condition() Condition {
	switch {
	case c.lastAt == 0 || c.inBandAt == 0: // nobody can say before it was in its band
		return Unknown
	case c.down:
		return Present
	}
	return Absent
}

func (c *collapse) Outcome() capture.Outcome {
	switch {
	case !c.arming.Armed || c.inBandAt == 0:
		return capture.NoData
	case c.count > 0:
		return capture.Fail
	case !c.known(): // a fall that nobody could see is none that did not happen
		return capture.NoData
	}
	return capture.Pass
}

func (c *collapse) Verdict() capture.Verdict {
	v := c.blank("")
	v.Outcome, v.Unit, v.Resolution, v.Value = c.Outcome(), capture.Volt.ASCII(), c.last.Resolution, c.last.Value
	switch {
	case !c.arming.Armed:
		v.Say = c.unwatched()
	case c.inBandAt == 0:
		v.Say = "Not watched yet: it was not in its band"
	case v.Outcome == capture.NoData:
		v.Say = "No reading"
	case c.down:
		v.Say, v.Value = "Collapsed to "+c.volts(c.lowest), c.lowest
	case c.count > 0:
		v.Say, v.Value = fmt.Sprintf("Collapsed %s since watched, the last time down to %s", times(c.count), c.volts(c.lowest)), c.lowest
	default:
		v.Say = "No collapse seen"
	}
	v.From, v.To = c.armedAt, c.lastAt
	return v
}

func (c *collapse) Finding() Finding {
	f := c.finding(c.firstLow.Value)
	f.Say = fmt.Sprintf("%s collapsed: from %s to %s", c.Rail.Name, capture.Volt.Text(c.from, c.before.Resolution), c.volts(c.firstLow.Value))
	f.Advice = "note what was switched, moved or heated just now; look at the input rail at the same moment"
	f.Evidence = []capture.Instant{c.beforeAt, c.firstAt}
	return f
}

func (c *collapse) Recovery() Finding {
	f := c.finding(c.lowest)
	f.Say = fmt.Sprintf("%s came back: down to %s, for %s", c.Rail.Name, c.volts(c.lowest), c.lasted())
	f.Evidence = []capture.Instant{c.beforeAt, c.firstAt, c.lowestAt, c.inBandAt}
	return f
}

// lasted says the bounds on the duration. The outer one is widened and the
// inner one narrowed by what is not known of the instants.
func (c *collapse) lasted() string {
	outer := seconds(c.inBand.Sampled(c.inBandAt).Sub(c.before.Sampled(c.beforeAt)) + c.inBand.HalfWidth + c.before.HalfWidth)
	inner := c.lastLow.Sampled(c.lowAt).Sub(c.firstLow.Sampled(c.firstAt)) - c.firstLow.HalfWidth - c.lastLow.HalfWidth
	if inner < 100*time.Millisecond {
		return "at most " + outer + " s"
	}
	return seconds(inner) + " to " + outer + " s"
}

// Fell returns within what stretch the rail fell last, widened by what is not
// known of the instants, and whether it is still down.
func (c *collapse) Fell() (from, to capture.Instant, down bool) {
	return c.before.Sampled(c.beforeAt).Add(-c.before.HalfWidth), c.firstLow.Sampled(c.firstAt).Add(c.firstLow.HalfWidth), c.down
}

func (c *collapse) finding(value float64) Finding {
	return Finding{Value: value, Limit: c.sign() * c.limit, Unit: capture.Volt.ASCII()}
}
