package capture

import (
	"strings"
	"time"
)

// MostMuted is how long a mute lasts at most: what nobody ends ends by itself.
const MostMuted = 30 * 24 * time.Hour

// Mute is a mute in force: nobody is told of what it concerns until it ends
// (the shelving of ANSI/ISA-18.2-2016 and IEC 62682:2014, which must expire).
type Mute struct {
	Subject string  `json:"subject"` // an alarm, a rule or a rail; empty: all of the job
	Until   Instant `json:"until"`   // it has ended then
	By      string  `json:"by,omitempty"`
}

// Concerns reports whether the mute means a rule of a rail, or its alarm of
// that identity ("": there is none).
func (m Mute) Concerns(rule, rail, alarm string) bool {
	return m.Subject == "" || m.Subject == rule || m.Subject == rail || alarm != "" && m.Subject == alarm
}

// Of is what the mute is on, for people: the rule of an alarm, "all alarms".
func (m Mute) Of() string {
	if m.Subject == "" {
		return "all alarms"
	}
	name, _, _ := strings.Cut(m.Subject, "@")
	return name
}

// Mutes are the mutes of a job, in the order in which they were set. The zero
// value holds none. They are not safe for concurrent use.
type Mutes []Mute

// With returns the mutes after an act of [ActMute]: it takes the place of an
// earlier one of the same subject, and a length of zero ends that. What has
// ended by at is left out. The receiver stays as it was.
func (m Mutes) With(at Instant, act Act) Mutes {
	var kept Mutes
	for _, one := range m.Now(at) {
		if one.Subject != act.Subject {
			kept = append(kept, one)
		}
	}
	if act.Value > 0 {
		length := min(act.Value, MostMuted.Seconds())
		kept = append(kept, Mute{act.Subject, at.Add(time.Duration(float64(length * float64(time.Second)))), act.By})
	}
	return kept
}

// Now returns those in force at an instant.
func (m Mutes) Now(at Instant) Mutes {
	var out Mutes
	for _, one := range m {
		if at < one.Until {
			out = append(out, one)
		}
	}
	return out
}

// On returns the mute that keeps an alarm quiet at an instant: of several the
// one that ends last.
func (m Mutes) On(at Instant, t Transition) (Mute, bool) {
	var found Mute
	for _, one := range m.Now(at) {
		if one.Concerns(t.Rule, t.Rail, t.Alarm) && one.Until > found.Until {
			found = one
		}
	}
	return found, found.Until > 0
}
