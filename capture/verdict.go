package capture

import "fmt"

// Outcome is the result of a judgement: the four outcomes of a non-binary
// statement (ILAC-G8:09/2019, 4.2.3), and no data.
type Outcome uint8

// The outcomes.
const (
	NoData Outcome = iota
	Pass
	ConditionalPass // inside the band, but nearer to an edge than the guard band
	ConditionalFail // outside, but nearer to the edge than the guard band
	Fail
)

var outcomeNames = [...]string{"no data", "pass", "conditional pass", "conditional fail", "fail"}

// String returns the recorded name.
func (o Outcome) String() string { return outcomeNames[o] }

// Word returns the one word on screen: yes, cannot tell, no, no data.
func (o Outcome) Word() string {
	switch o {
	case Pass:
		return "yes"
	case ConditionalPass, ConditionalFail:
		return "cannot tell"
	case Fail:
		return "no"
	}
	return "no data"
}

// MarshalText writes String.
func (o Outcome) MarshalText() ([]byte, error) { return []byte(o.String()), nil }

// UnmarshalText reads String.
func (o *Outcome) UnmarshalText(b []byte) error {
	for i, n := range outcomeNames {
		if n == string(b) {
			*o = Outcome(i)
			return nil
		}
	}
	return fmt.Errorf("unknown outcome %q", b)
}

// Verdict is a judgement about a rail with what it rests on.
type Verdict struct {
	Rule        string    `json:"rule"`
	Kind        string    `json:"kind"`
	Rail        string    `json:"rail"`
	Outcome     Outcome   `json:"outcome"`
	Say         string    `json:"say"`                   // one sentence
	Value       float64   `json:"value"`                 // base unit
	Uncertainty float64   `json:"uncertainty,omitempty"` // expanded, k = 2 (more where few readings scatter), base unit; 0: not stated
	Probability float64   `json:"probability,omitempty"` // that it conforms, where Uncertainty is stated; four decimals, for people: nothing is decided by it
	Unit        string    `json:"unit,omitempty"`
	Resolution  float64   `json:"resolution,omitempty"`
	Channel     ChannelID `json:"channel,omitempty"`
	Leads       float64   `json:"leads,omitempty"`     // taken off the reading for them, ohm: Value is without; before a contact what will be
	Indicated   bool      `json:"indicated,omitempty"` // no accuracy stated: shown, never signed
	Overdue     bool      `json:"overdue,omitempty"`   // the calibration was, when it was read: indicated only
	Note        string    `json:"note,omitempty"`      // what the uncertainty takes for granted: "assumed 23 °C"
	From        Instant   `json:"from,omitempty"`      // first and last reading used
	To          Instant   `json:"to,omitempty"`
	N           int       `json:"n,omitempty"`
	Held        HeldWord  `json:"held,omitzero"` // decided before, where nothing can be judged now
}
