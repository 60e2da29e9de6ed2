package kind

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// missing judges whether a rail is there at all, in three zones of the
// nominal's magnitude that call for different next steps: off, fed from
// elsewhere or dragged down, and low. A low rail is there: its verdict says
// so, and the alarm is left to band.
//
// A rail that was seen in its band since it is watched is missing at once; one
// that never came up only after a grace, for it may still be rising.
type missing struct {
	base
	gone bool // condition, with the deadband
}

// Zones of a rail's magnitude as parts of the nominal, see
// [uncertainty.Zone].
const (
	OffBelow = uncertainty.OffBelow
	FedBelow = uncertainty.FedBelow
)

// RiseGrace is how long a rail that was never up since it is watched may take
// to rise before it is missing, or out of its band.
const RiseGrace = 5 * time.Second

func impliedMissing(r capture.Rail) (capture.Rule, bool) {
	rule := impliedRule("missing", r, capture.Urgent)
	rule.OnDelay, rule.OffDelay, rule.Deadband = time.Second, time.Second, bandDeadband(r)
	return rule, true
}

func newMissing(c Case) Judge { return &missing{base: base{Case: c}} }

func (m *missing) Sit(at capture.Instant, seat Seat) { m.base.Sit(at, seat); m.gone = false }
func (m *missing) Blind(capture.Instant)             { m.lastAt = 0 }

func (m *missing) limit() float64 {
	if m.Rule.Limit != 0 {
		return math.Abs(m.Rule.Limit)
	}
	return float64(FedBelow * math.Abs(m.Rail.Nominal))
}

func (m *missing) Read(at capture.Instant, r *capture.Reading) {
	if !m.keep(at, r) {
		return
	}
	v := m.Rail.Sized(r.Value).Value
	m.gone = v < m.limit() || m.gone && v <= m.limit()+m.Rule.Deadband
}

func (m *missing) Condition() Condition {
	switch {
	case m.lastAt == 0:
		return Unknown
	case m.gone && m.risen():
		return Present
	}
	return Absent
}

func (m *missing) Outcome() capture.Outcome {
	switch {
	case !m.known() || m.arming.Cold && math.Abs(m.share(m.last.Value)) < OffBelow:
		return capture.NoData
	case m.gone:
		return capture.Fail
	}
	return capture.Pass
}

// zone puts the newest reading in words, with what to do about it.
func (m *missing) zone() (say, advice string) {
	share := m.share(m.last.Value)
	zone := uncertainty.Zone(share)
	switch {
	case share < -OffBelow:
		return zone, "are the probes swapped? Swap them and read again"
	case share < OffBelow:
		return "is " + zone, "look at what switches it on: its input, its enable, its fuse; then its ohms with the power off"
	case share < FedBelow:
		return "is " + zone,
			"unplug its load: if it rises, the load drags it down; if it stays, another rail feeds it through a protection diode"
	case m.Rail.Sized(m.last.Value).Value < m.Rail.Sized(m.last.Value).Bounds.Low:
		return fmt.Sprintf("is there, but low, %.0f %% of nominal", float64(100*share)), "read the converter's input under load before trimming"
	}
	return "is there", ""
}

func (m *missing) Verdict() capture.Verdict {
	if !m.known() {
		return m.blank("No reading")
	}
	say, _ := m.zone()
	v := m.blank(upper(say) + ": " + m.volts(m.last.Value))
	v.Outcome, v.Value, v.Unit, v.Resolution = m.Outcome(), m.last.Value, capture.Volt.ASCII(), m.last.Resolution
	v.From, v.To, v.N = m.lastAt, m.lastAt, 1
	if v.Outcome == capture.NoData {
		v.Say = "No voltage on it: " + m.volts(m.last.Value)
	}
	return v
}

func (m *missing) Finding() Finding {
	say, advice := m.zone()
	f := m.finding()
	f.Say, f.Advice = fmt.Sprintf("%s %s: %s", m.Rail.Name, say, m.volts(m.last.Value)), advice
	return f
}

func (m *missing) Recovery() Finding {
	f := m.finding()
	f.Say = fmt.Sprintf("%s is there again: %s", m.Rail.Name, m.volts(m.last.Value))
	return f
}

func (m *missing) finding() Finding {
	return Finding{Value: m.last.Value, Limit: m.sign() * m.limit(), Unit: capture.Volt.ASCII(), Evidence: []capture.Instant{m.lastAt}}
}
