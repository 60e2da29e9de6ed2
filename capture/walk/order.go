package walk

import (
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
)

// Step is one thing to measure.
type Step struct {
	Rail     string
	Quantity capture.Quantity // dc_voltage or resistance
	Reversed bool             // red on the return, black on the rail
}

// Said names the step for people: "+5 V logic, leads reversed".
func (s Step) Said() string {
	if s.Reversed {
		return s.Rail + ", leads reversed"
	}
	return s.Rail
}

// Figure is what a step came to. Text is empty where there is no figure, then
// Why says why not.
type Figure struct {
	Value float64         `json:"value"` // base unit
	Text  string          `json:"text"`  // "0.845 Ω", "open"
	Why   string          `json:"why,omitempty"`
	At    capture.Instant `json:"at,omitempty"`    // last reading that it is made of
	Place capture.Instant `json:"place,omitempty"` // of the placement that it is filed under
	Odd   bool            `json:"odd,omitempty"`   // out of what is expected
	// AtLeast says that the reading still rose when it was filed: the rail has Value
	// or more.
	AtLeast bool `json:"at_least,omitempty"`
}

const (
	// ProofLasts is how long a rail that was read dead counts as dead (as the
	// rule about shorts has it).
	ProofLasts = 60 * time.Second
	// DeadBelow is the voltage from which a resistance is no measurement, in volt
	// (common practice).
	DeadBelow = 0.050
)

// order is which steps there are and which are done.
type order struct {
	setup   Setup
	figures map[Step]Figure
	supply  capture.Instant // of the newest supply event
	lapsed  string          // why the step is in volts once more; "": it is not
}

func newOrder(s Setup) order { return order{setup: s, figures: map[Step]Figure{}} }

// next returns the step that is to be asked for, false when all is done. What
// cannot be asked for any more gets its reason.
func (o *order) next(now capture.Instant) (Step, bool) {
	o.lapsed = ""
	for _, r := range o.setup.Rails {
		step := Step{r.Name, capture.DCVoltage, false}
		if _, done := o.figures[step]; !done {
			return step, true
		}
	}
	if o.setup.Live {
		return Step{}, false
	}
	for _, reversed := range []bool{false, true} {
		if reversed && !o.setup.Both {
			break
		}
		for _, r := range o.setup.Rails {
			step := Step{r.Name, capture.Resistance, reversed}
			if _, done := o.figures[step]; done {
				continue
			}
			if why := o.notDead(r.Name); why != "" {
				o.figures[step] = Figure{Why: why}
				continue
			}
			if !o.proven(r.Name, now) {
				o.lapsed = o.lapse(r.Name)
				step = Step{r.Name, capture.DCVoltage, false}
				delete(o.figures, step)
			}
			return step, true
		}
	}
	return Step{}, false
}

// notDead says why a rail must not be read in ohms, whatever is done now.
func (o *order) notDead(rail string) string {
	v := o.figures[Step{rail, capture.DCVoltage, false}]
	switch {
	case v.Text == "":
		return "not proved dead: " + v.Why
	case !(math.Abs(v.Value) < DeadBelow):
		return v.Text + " on the rail"
	}
	return ""
}

// proven reports whether the proof that a rail is dead is fresh.
func (o *order) proven(rail string, now capture.Instant) bool {
	v, ok := o.figures[Step{rail, capture.DCVoltage, false}]
	return ok && v.Text != "" && math.Abs(v.Value) < DeadBelow && now.Sub(v.At) <= ProofLasts && v.At > o.supply
}

// lapse says why the proof that a rail is dead counts no more.
func (o *order) lapse(rail string) string {
	if o.figures[Step{rail, capture.DCVoltage, false}].At <= o.supply {
		return "volts again: a supply was set or switched since it was read dead"
	}
	return fmt.Sprintf("volts again: it was read dead more than %.0f s ago", ProofLasts.Seconds())
}

// count returns how many steps are done, and of how many.
func (o *order) count() (done, of int) {
	each := 1
	switch {
	case o.setup.Live:
	case o.setup.Both:
		each = 3
	default:
		each = 2
	}
	return len(o.figures), each * len(o.setup.Rails)
}
