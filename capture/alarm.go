package capture

import "fmt"

// Severity orders alarms.
type Severity uint8

// The severities. The zero value is a notice, which never makes a sound.
const (
	Notice Severity = iota
	Warning
	Urgent
)

// String returns "notice", "warning" or "urgent".
func (s Severity) String() string {
	switch s {
	case Warning:
		return "warning"
	case Urgent:
		return "urgent"
	}
	return "notice"
}

// ParseSeverity is the inverse of String.
func ParseSeverity(s string) (Severity, error) {
	for v := Notice; v <= Urgent; v++ {
		if v.String() == s {
			return v, nil
		}
	}
	return Notice, fmt.Errorf("unknown severity %q: use notice, warning or urgent", s)
}

// MarshalText writes String.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads String.
func (s *Severity) UnmarshalText(b []byte) error {
	v, err := ParseSeverity(string(b))
	*s = v
	return err
}

// AlarmState is a state of the life cycle after ANSI/ISA-18.2-2016 and
// IEC 62682:2014. "Acknowledged" of the standard is *heard* here.
type AlarmState uint8

// The states, with the letters of the standard's diagram. The states of
// suppression (G, H, I) are told apart by [Transition.Muted].
const (
	Normal       AlarmState = iota // A
	Active                         // B: active, not heard
	Heard                          // C: active, heard
	Returned                       // D: went away unheard
	Latched                        // E: went away, latched, not heard
	LatchedHeard                   // F: went away, latched, heard
)

var alarmStateNames = [...]string{"normal", "active", "heard", "returned", "latched", "latched heard"}

// String returns the plain name.
func (s AlarmState) String() string { return alarmStateNames[s] }

// Letter returns the state's letter in the standard's diagram.
func (s AlarmState) Letter() string { return "ABCDEF"[s : s+1] }

// IsActive reports whether the condition itself is present.
func (s AlarmState) IsActive() bool { return s == Active || s == Heard }

// MarshalText writes String.
func (s AlarmState) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads String.
func (s *AlarmState) UnmarshalText(b []byte) error {
	for i, n := range alarmStateNames {
		if n == string(b) {
			*s = AlarmState(i)
			return nil
		}
	}
	return fmt.Errorf("unknown alarm state %q", b)
}

// Transition is one step in the life of an alarm. An alarm is one occurrence
// of one rule; its ID is the rule's name and the instant it was raised.
type Transition struct {
	At       Instant    `json:"at"` // instant of the record or tick that caused it
	Alarm    string     `json:"alarm"`
	Rule     string     `json:"rule"`
	Kind     string     `json:"kind"`
	Rail     string     `json:"rail"`
	Severity Severity   `json:"severity"`
	From     AlarmState `json:"from"`
	To       AlarmState `json:"to"`
	Raised   Instant    `json:"raised"`           // when this occurrence began
	Say      string     `json:"say"`              // "+5 V logic collapsed: from 5.011 V to 3.087 V"
	Advice   string     `json:"advice,omitempty"` // what to do next
	Value    float64    `json:"value"`            // the reading that decided, base unit
	Limit    float64    `json:"limit"`            // what it was held against, base unit
	Unit     string     `json:"unit,omitempty"`
	Channel  ChannelID  `json:"channel,omitempty"`
	Evidence []Instant  `json:"evidence,omitempty"` // the records that prove it
	Muted    string     `json:"muted,omitempty"`    // why nobody is told: "+5 V logic feeds it"
	By       string     `json:"by,omitempty"`       // who heard or reset it
}

// AlarmID builds the identity of an occurrence.
func AlarmID(rule string, raised Instant) string { return fmt.Sprintf("%s@%d", rule, int64(raised)) }
