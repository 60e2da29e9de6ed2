package kind

import (
	"fmt"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/trend"
	"steadyrail/rules/uncertainty"
)

// drift judges how fast a rail moves over a long watch: the slope of block
// medians with its 95 % interval (Theil and Sen, see [trend.BlockDrift]) held
// against a limit for each hour. It passes when the whole interval lies within,
// fails when the whole of it lies beyond, and cannot tell between, with fewer
// than 20 blocks, or where blocks are short against the correlation time.
//
// A meter and its room drift as a board does. What the meter may do for each
// kelvin stands beside the figure where its maker states it.
type drift struct {
	base
	watch trend.Cells
	pace  pace
	slope trend.Drift // for each second
	text  string      // what is said of it, in words that change with it only
	limit float64     // of the slope, each way, for each hour
}

// DriftLeast is how long a rail is watched before a drift is told: a slope for
// each hour is not foretold from seconds (common practice).
const DriftLeast = 10 * time.Minute

// driftLimit is the slope, base unit for each hour, that follows from a rail: a
// tenth of its band. A soak of some hours then stays well inside.
func driftLimit(rule capture.Rule, rail capture.Rail) float64 {
	if rule.Limit != 0 {
		return abs(rule.Limit)
	}
	return rail.HalfBand() / 5
}

func newDrift(c Case) Judge {
	return &drift{base: base{Case: c}, watch: trend.NewCells(), limit: driftLimit(c.Rule, c.Rail)}
}

func (d *drift) Sit(at capture.Instant, seat Seat) { d.base.Sit(at, seat); d.forget() }
func (d *drift) Blind(capture.Instant)             { d.lastAt = 0; d.forget() }
func (d *drift) forget()                           { d.watch.Reset(); d.pace, d.slope = pace{}, trend.Drift{} }

func (d *drift) Arm(at capture.Instant, a Arming) {
	if a.Armed && !d.arming.Armed {
		d.forget()
	}
	d.base.Arm(at, a)
}

func (d *drift) Read(at capture.Instant, r *capture.Reading) {
	if !d.keep(at, r) || !d.arming.Armed {
		return
	}
	if d.watch.Add(at, r.Value); d.pace.due(d.watch.Span()) && len(d.watch.Points()) > 1 {
		d.slope = trend.BlockDrift(d.watch.Points(), d.block(), r.Resolution)
		d.text = d.said() + d.meter()
	}
}

// block is the length of a block: the longest that leaves enough of them.
func (d *drift) block() time.Duration {
	if d.Rule.Window > 0 {
		return max(d.Rule.Window, d.watch.Width())
	}
	cells := max(1, time.Duration(len(d.watch.Points()))/trend.LeastBlocks)
	return cells * d.watch.Width()
}

// early reports whether the watch is too short to tell a drift.
func (d *drift) early() bool { return d.slope.Blocks == 0 || d.slope.Span < DriftLeast }

const hour = 3600.0

// interval is the slope's for each hour.
func (d *drift) interval() (slope, low, high float64) {
	return float64(d.slope.PerSecond * hour), float64(d.slope.Low * hour), float64(d.slope.High * hour)
}

func (d *drift) Outcome() capture.Outcome {
	slope, low, high := d.interval()
	switch limit := d.limit; {
	case !d.known() || d.early() || !d.slope.Enough:
		return capture.NoData
	case low >= -limit && high <= limit:
		return capture.Pass
	case low > limit || high < -limit:
		return capture.Fail
	case abs(slope) <= limit:
		return capture.ConditionalPass
	}
	return capture.ConditionalFail
}

func (d *drift) Condition() Condition {
	switch d.Outcome() {
	case capture.NoData:
		return Unknown
	case capture.Fail:
		return Present
	}
	return Absent
}

func (d *drift) Verdict() capture.Verdict {
	v := d.blank(d.unwatched())
	switch {
	case !d.arming.Armed:
		return v
	case !d.known():
		return d.blank("No reading")
	case d.early():
		return d.blank(fmt.Sprintf("Not yet: watched %d of %d min", d.watch.Span()/time.Minute, DriftLeast/time.Minute))
	case !d.slope.Enough:
		return d.blank("Cannot tell: " + d.slope.Why)
	}
	slope, low, high := d.interval()
	v.Say = map[capture.Outcome]string{capture.Pass: "Steady: ", capture.Fail: "Drifts: "}[d.Outcome()]
	if v.Say == "" {
		v.Say = "Cannot tell: "
	}
	v.Say += d.text
	v.Outcome, v.Value, v.Uncertainty, v.Unit = d.Outcome(), slope, (high-low)/2, d.unit().ASCII()+"/h"
	v.Resolution, v.From, v.To, v.N = twoDigits((high-low)/2), d.watch.Points()[0].At, d.lastAt, d.slope.Blocks
	return v
}

// said is the slope with its interval.
func (d *drift) said() string {
	slope, low, high := d.interval()
	digits := twoDigits((high - low) / 2)
	return fmt.Sprintf("%s/h (%s to %s), limit %s/h", d.unit().Text(slope, digits), d.unit().Text(low, digits), d.unit().Text(high, digits), d.digits(d.limit))
}

// meter is what the meter itself may do.
func (d *drift) meter() string {
	s := uncertainty.State(uncertainty.Of(d.last, d.seat.Channel.Accuracy))
	if s.Accuracy.PerKelvin == 0 {
		return "; what the meter itself drifts is not stated"
	}
	return "; the meter itself may move by " + d.digits(float64(s.Accuracy.PerKelvin*abs(d.last.Value))) + " for each kelvin"
}

func (d *drift) Finding() Finding {
	f := d.finding()
	f.Say = fmt.Sprintf("%s drifts: %s", d.subject(), d.text)
	f.Advice = "read it with a second meter and note the room's temperature before anything is trimmed"
	return f
}

func (d *drift) Recovery() Finding {
	f := d.finding()
	f.Say = fmt.Sprintf("%s drifts no more: %s", d.subject(), d.said())
	return f
}

func (d *drift) finding() Finding {
	slope, _, _ := d.interval()
	f := Finding{Value: slope, Limit: d.limit, Unit: d.unit().ASCII() + "/h", Evidence: []capture.Instant{d.lastAt}}
	if len(d.watch.Points()) > 0 {
		f.Evidence = append(f.Evidence, d.watch.Points()[0].At)
	}
	return f
}
