package standin

import "steadyrail/capture"

// Need is what a board asks of the converter that feeds a rail: its sheet, and
// what was measured on it.
type Need struct {
	Rail      capture.Rail `json:"rail"`
	Load      Figure       `json:"load"`       // A, steady
	Peak      Figure       `json:"peak"`       // A, the most it draws
	Least     Figure       `json:"least"`      // A, the least it draws
	InLow     Figure       `json:"in_low"`     // V, at the valley of the ripple and low mains
	InHigh    Figure       `json:"in_high"`    // V, with high mains and no load
	Ambient   Figure       `json:"ambient"`    // °C, the hottest beside it, covers on
	Survives  Figure       `json:"survives"`   // V, magnitude, that the load endures without harm
	Ripple    Figure       `json:"ripple"`     // V peak to peak, that the load bears
	Board     Figure       `json:"board"`      // F on the rail as it stands
	Rise      Figure       `json:"rise"`       // s in which the rail must be up
	SourceOhm Figure       `json:"source_ohm"` // ohm of what feeds it, with leads, lamp or filter
	SourceMax Figure       `json:"source_max"` // A that the source can give before it limits or its fuse goes
	ReturnOhm Figure       `json:"return_ohm"` // ohm of the way back from load to converter
	Separates Answer       `json:"separates"`  // whether the dead part separates mains from secondary
	Working   Figure       `json:"working"`    // V across that separation, peak or DC
	Class     string       `json:"class"`      // of that separation: "functional", "basic", "reinforced"
	Creepage  Figure       `json:"creepage"`   // m along its surface, as the dead part has it
	SourceI2t Figure       `json:"source_i2t"` // A²s that melts the fuse before it
	Beside    Figure       `json:"beside"`     // Hz of another converter on the board; 0 with a source: none
	BoardESR  Figure       `json:"board_esr"`  // ohm in series with the capacitance on the rail
	Dip       Figure       `json:"dip"`        // V away from its level that the load bears for a moment; not stated: half the band
	Recovery  Figure       `json:"recovery"`   // s in which it must be back
	Prebiased Answer       `json:"prebiased"`  // something holds the rail up when the part starts
	Parallel  Answer       `json:"parallel"`   // another source feeds the rail too
	Sense     Answer       `json:"sense"`      // the board has sense lines to the load
	Good      Answer       `json:"good"`       // something listens to a power-good signal
	Enable    string       `json:"enable"`     // level that means on: "high", "low", "none"
	EnableOn  Figure       `json:"enable_on"`  // V that the board gives for on
	EnableOff Figure       `json:"enable_off"` // V that it gives for off
	Length    Figure       `json:"length"`     // m of room
	Width     Figure       `json:"width"`
	Height    Figure       `json:"height"`
}

// Topology names how a candidate makes its voltage.
type Topology string

// The topologies. An isolated module is judged by its stated figures alone.
const (
	Linear    Topology = "linear"
	StepDown  Topology = "step-down"
	StepUp    Topology = "step-up"
	Inverting Topology = "inverting"
	Module    Topology = "isolated module"
)

// Candidate is what is stated of a converter that might stand in.
type Candidate struct {
	Name       string   `json:"name"`
	Topology   Topology `json:"topology"`
	Isolation  Figure   `json:"isolation"`    // V, working voltage between input and output; not stated: none
	InLow      Figure   `json:"in_low"`       // V
	InHigh     Figure   `json:"in_high"`      // V
	OutLow     Figure   `json:"out_low"`      // V, magnitude
	OutHigh    Figure   `json:"out_high"`     // V, magnitude
	Dropout    Figure   `json:"dropout"`      // V at the load's current, hot; linear
	DutyMax    Figure   `json:"duty_max"`     // 1; step-down
	Current    Figure   `json:"current"`      // A, at 25 °C or at DerateFrom
	DerateFrom Figure   `json:"derate_from"`  // °C
	DeratePerK Figure   `json:"derate_per_k"` // A/K above it
	Quiescent  Figure   `json:"quiescent"`    // A
	Efficiency Figure   `json:"efficiency"`   // 1, at the load
	PerWatt    Figure   `json:"per_watt"`     // K/W from junction to ambient, mounted as here
	Junction   Figure   `json:"junction"`     // °C, highest allowed
	Frequency  Figure   `json:"frequency"`    // Hz
	Inductance Figure   `json:"inductance"`   // H
	SwitchMax  Figure   `json:"switch_max"`   // A, lowest current limit of the switch
	OutCap     Figure   `json:"out_cap"`      // F
	OutESR     Figure   `json:"out_esr"`      // ohm
	InCap      Figure   `json:"in_cap"`       // F
	InCapRMS   Figure   `json:"in_cap_rms"`   // A that the input capacitor bears
	LeastLoad  Figure   `json:"least_load"`   // A it needs to regulate; 0 with a source: none
	CapMax     Figure   `json:"cap_max"`      // F it starts into
	Start      Figure   `json:"start"`        // s of its soft start
	Clamp      Figure   `json:"clamp"`        // V at which an over-voltage clamp or crowbar holds the output
	Fuse       Figure   `json:"fuse"`         // A of the fuse in its input that the clamp can blow
	Class      string   `json:"class"`        // of its separation: "functional", "basic", "reinforced"
	Creepage   Figure   `json:"creepage"`     // m
	Top        Figure   `json:"top"`          // K/W from junction to the top of its package, ψ; for what a soak measures there
	Point      string   `json:"point"`        // where its temperature is measured: "stand-in case"
	SwitchDrop Figure   `json:"switch_drop"`  // V across the switch that is on
	DiodeDrop  Figure   `json:"diode_drop"`   // V across the diode
	Diode      Figure   `json:"diode"`        // A, mean, that its diode bears; 0 with a source: a switch is in its place
	DiodeBack  Figure   `json:"diode_back"`   // V that the diode blocks
	ESRLow     Figure   `json:"esr_low"`      // ohm, the least that keeps it stable; linear
	ESRHigh    Figure   `json:"esr_high"`     // ohm, the most
	Overload   string   `json:"overload"`     // what it does then: "constant", "foldback", "hiccup", "latch"
	FoldTo     Figure   `json:"fold_to"`      // A into a short, folded back
	Prebias    Answer   `json:"prebias"`      // it starts into a rail that is held up
	Parallel   Answer   `json:"parallel"`     // its output may be fed by another source
	Sense      Answer   `json:"sense"`        // it has sense lines
	Good       Answer   `json:"good"`         // it says power-good
	Enable     string   `json:"enable"`       // level that means on: "high", "low", "none"
	EnableOn   Figure   `json:"enable_on"`    // V beyond which it is on for sure
	EnableOff  Figure   `json:"enable_off"`   // V beyond which it is off for sure
	Divider    *Divider `json:"divider,omitempty"`
	Length     Figure   `json:"length"` // m
	Width      Figure   `json:"width"`
	Height     Figure   `json:"height"`
}

// switched reports whether the inductor formulas of a stage of seen parts hold.
func (c Candidate) switched() bool {
	return c.Topology == StepDown || c.Topology == StepUp || c.Topology == Inverting
}

// isolated reports whether a separation is stated.
func (c Candidate) isolated() bool { return c.Isolation.Stated() && c.Isolation.Value > 0 }
