package capture

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// The acts of presetting and trimming, beside [ActTurn].
const (
	// ActMark keeps the steady value of a rail as it is now. Subject is the rail,
	// Text the JSON of [MarkedAs].
	ActMark Verb = "mark"
	// ActTrimmer declares the trimmer of a rail. Subject is the rail, Value its turns
	// from end to end, Text the volts between the ends: "1 V".
	ActTrimmer Verb = "trimmer"
)

// MarkedAs is what was known of a rail when its value was marked. A nil pointer
// was not said: it is not nothing.
type MarkedAs struct {
	Load  *float64 `json:"load,omitempty"`  // ampere
	Input *float64 `json:"input,omitempty"` // volt
	From  string   `json:"from,omitempty"`  // who says so: "typed", "load/amperes"
}

// Text is the JSON of it.
func (m MarkedAs) Text() string {
	b, err := json.Marshal(m)
	if err != nil {
		return "{}" // cannot be: CheckAct lets no infinite figure pass
	}
	return string(b)
}

// ParseMarkedAs reads the text of a mark; an empty one says nothing.
func ParseMarkedAs(text string) (MarkedAs, error) {
	var m MarkedAs
	if strings.TrimSpace(text) == "" {
		return m, nil
	}
	if err := json.Unmarshal([]byte(text), &m); err != nil {
		return m, fmt.Errorf("%.60q is no mark: write {\"load\": 0.62, \"input\": 24}", text)
	}
	if m.Load != nil && *m.Load < 0 {
		return m, fmt.Errorf("a load of %g A cannot be: write amperes, 0 for none", *m.Load)
	}
	return m, nil
}

// Say tells under what the value was marked: "0.62 A, 24.0 V in".
func (m MarkedAs) Say() string {
	var parts []string
	switch {
	case m.Load == nil:
	case *m.Load == 0:
		parts = append(parts, "without load")
	default:
		parts = append(parts, Ampere.Text(*m.Load, 0.001))
	}
	if m.Input != nil {
		parts = append(parts, Volt.Text(*m.Input, 0.01)+" in")
	}
	return strings.Join(parts, ", ")
}

// Trimming is a rail under the screwdriver: where it stands, which way the screw
// goes, and what a touch of it is worth. Volts are of the rail's size, so that
// "up" is away from zero on a negative rail too. A pointer that is nil says: not
// known.
type Trimming struct {
	Job   string `json:"job,omitempty"`
	Rail  string `json:"rail"`
	State string `json:"state"` // low, high, inside, cannot tell, not up, no reading

	At          Instant `json:"at,omitempty"`
	Value       float64 `json:"value"` // volt, with its sign
	Resolution  float64 `json:"resolution"`
	Uncertainty float64 `json:"uncertainty"` // expanded; 0: no accuracy stated
	Target      float64 `json:"target"`      // volt, with its sign
	Off         float64 `json:"off"`         // volt of its size, below 0: low
	Deviation   float64 `json:"deviation"`   // Off in half-bands
	Steady      bool    `json:"steady"`

	Say    string   `json:"say"`    // "32 mV low: up"
	Next   string   `json:"next"`   // "about 40 mV a turn: three quarters of a turn up, then lift the blade"
	Spoken string   `json:"spoken"` // for a voice: "4.968 volts. 32 millivolts low. Up."
	Notes  []string `json:"notes"`  // what was noticed: slack, blade

	Tone     Tone       `json:"tone"`
	Touch    *Touch     `json:"touch,omitempty"` // the last
	Touches  int        `json:"touches"`
	Gain     *TrimGain  `json:"gain,omitempty"`
	Slack    float64    `json:"slack"` // turns lost at a reversal; 0: none noticed
	Blade    float64    `json:"blade"` // volt that come back when the blade is lifted; 0: nothing noticed
	Course   Course     `json:"course"`
	Trace    []Point2   `json:"trace,omitempty"` // of the last 30 s, oldest first; volt with its sign
	Preset   *TrimPoint `json:"preset,omitempty"`
	Fitted   *TrimPoint `json:"fitted,omitempty"`
	Findings []string   `json:"findings"` // fit-in shift, load regulation
}

// Touch is a step between two steady stretches: somebody was at the screw.
type Touch struct {
	From   Instant `json:"from"` // the last reading of the steady stretch before
	To     Instant `json:"to"`   // the first of the one after
	Before float64 `json:"before"`
	After  float64 `json:"after"`
	Moved  float64 `json:"moved"` // volt of its size, up positive
	U      float64 `json:"u"`     // standard uncertainty of Moved
	Turns  float64 `json:"turns"` // as typed, up positive; 0: not typed
}

// TrimGain is what a turn is worth.
type TrimGain struct {
	PerTurn  float64 `json:"per_turn"` // volt of its size
	U        float64 `json:"u"`        // standard uncertainty
	Touches  int     `json:"touches"`  // it was learned from; 0: declared
	Declared bool    `json:"declared"`
}

// Tone is the sound of a rail being trimmed: pips whose pitch comes home as the
// band nears, one by one below and in pairs above; a chord that stands inside.
type Tone struct {
	Hz    []float64     `json:"hz"`    // one voice, or the chord
	Every time.Duration `json:"every"` // from pip to pip; 0: it stands
	Pips  int           `json:"pips"`
	Long  time.Duration `json:"long"` // a pip
}

// Course is where a rail will end when nobody touches it.
type Course struct {
	Known bool    `json:"known"`
	Final float64 `json:"final"`   // volt, with its sign; 0 unless Known
	U     float64 `json:"u"`       // expanded
	TrimT float64 `json:"trim_to"` // volt, with its sign, to trim to now; 0: leave it
	Say   string  `json:"say"`
}

// TrimPoint is a steady value that was kept, with what is known of it.
type TrimPoint struct {
	At      Instant   `json:"at"`
	Stage   Stage     `json:"stage"`
	Channel ChannelID `json:"channel"`
	Point   string    `json:"point,omitempty"`
	Value   float64   `json:"value"` // volt, with its sign
	U       float64   `json:"u"`     // expanded; 0: no accuracy stated
	As      MarkedAs  `json:"as"`
	Marked  bool      `json:"marked"` // by a person; else it was the steady value when the stage ended or began
}
