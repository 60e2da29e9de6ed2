package capture

import (
	"encoding/json"
	"fmt"
	"math"
)

// The acts of a discharge and of the proof that the meter works. What they say
// in full stands as JSON in their Text.
const (
	// ActDischarge says that a capacitor is discharged through a resistor while a
	// channel watches it. Subject names the capacitor, Text is a [Discharge].
	ActDischarge Verb = "discharge"
	// ActProve says that a meter was tried on a source known to be live. Subject is
	// the channel, Text a [MeterProof], Value what it read in volt.
	ActProve Verb = "prove meter"
	// ActDischarged ends the watch. Subject names the capacitor, Text says what was
	// measured, Value is the last voltage.
	ActDischarged Verb = "discharged"
)

// Levels to which a capacitor is discharged, in volt.
const (
	// LevelTouch is the limit below which direct current counts as no shock in a
	// dry place (IEC 61140 and IEC 60364-4-41, from memory: 120 V ripple-free, 60 V
	// where it may be touched). It says nothing about burns or sparks.
	LevelTouch = 60.0
	// LevelWork is a level at which a slipping probe harms neither the board nor
	// the hand (common practice).
	LevelWork = 5.0
	// LevelOhms is what an ohmmeter may be put on (common practice).
	LevelOhms = 0.05
)

// Discharge is the card of a capacitor that is to be emptied.
type Discharge struct {
	What    string    `json:"what"` // "C1, bulk capacitor"
	Channel ChannelID `json:"channel,omitempty"`
	Rail    string    `json:"rail,omitempty"`  // where the channel stands; "": a point of its own
	Ohms    float64   `json:"ohms"`            // resistor it is discharged through
	Farads  float64   `json:"farads"`          // capacitance, all that is in parallel
	Volts   float64   `json:"volts"`           // to begin with, magnitude
	Level   float64   `json:"level"`           // volt, to be below
	Watts   float64   `json:"watts,omitempty"` // rating of the resistor; 0: not stated
}

// span is what a figure of a card may be.
type span struct {
	name, unit  string
	least, most float64
	hint        string
}

// The spans are wide: they catch a slipped prefix, not a rare part.
var (
	spanOhms   = span{"the resistance", "Ω", 0.01, 1e9, "the resistor that is held across it, such as 2.2k"}
	spanFarads = span{"the capacitance", "F", 1e-12, 1000, "all that is in parallel, such as 220u"}
	spanVolts  = span{"the voltage to begin with", "V", 1e-3, 50e3, "what it was charged to, such as 325"}
	spanLevel  = span{"the level", "V", 1e-3, 1000, "touch (60 V), work (5 V), ohms (50 mV), or volts of your own"}
	spanWatts  = span{"the resistor's rating", "W", 1e-3, 1e5, "what its body may turn into heat, such as 5; leave it out when it is not known"}
)

func (s span) check(v float64) error {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return fmt.Errorf("%s is not a number: say %s", s.name, s.hint)
	case v < 0:
		return fmt.Errorf("%s cannot be negative: say %s", s.name, s.hint)
	case v == 0:
		return fmt.Errorf("%s is zero or missing: say %s", s.name, s.hint)
	case v < s.least || v > s.most:
		return fmt.Errorf("%s of %g %s is none that a bench meets (%g to %g %s): say %s", s.name, v, s.unit, s.least, s.most, s.unit, s.hint)
	}
	return nil
}

// Validate reports the first thing that is wrong with the figures of a card.
func (d Discharge) Validate() error {
	checks := []error{spanOhms.check(d.Ohms), spanFarads.check(d.Farads), spanVolts.check(d.Volts), spanLevel.check(d.Level)}
	if d.Watts != 0 {
		checks = append(checks, spanWatts.check(d.Watts))
	}
	for _, err := range checks {
		if err != nil {
			return err
		}
	}
	// A day is more than anybody stands beside it, and a sign of a slipped prefix.
	if tau := float64(d.Ohms * d.Farads); tau > 86400 {
		return fmt.Errorf("%g Ω and %g F have a time constant of %.0f h: take a smaller resistor, or look at the prefixes", d.Ohms, d.Farads, tau/3600)
	}
	return nil
}

// Text returns the card as the text of an act.
func (d Discharge) Text() string { return asText(d) }

// ParseDischarge reads the text of an [ActDischarge].
func ParseDischarge(text string) (Discharge, error) {
	var d Discharge
	if err := json.Unmarshal([]byte(text), &d); err != nil {
		return d, fmt.Errorf("the card of a discharge cannot be read: %w", err)
	}
	return d, d.Validate()
}

// MeterProof is a trial of a meter on a source known to be live.
type MeterProof struct {
	Source     string  `json:"source"`     // "supply/1, by its own reading", "a battery"
	Expected   float64 `json:"expected"`   // volt
	Read       float64 `json:"read"`       // volt
	Resolution float64 `json:"resolution"` // of Read
	Good       bool    `json:"good"`       // the meter shows what is there
}

// ProofAgrees is how far a meter may be from a known source and still be proved:
// the trial shows that leads, fuse and function work, not how well it is
// calibrated (the project's own choice).
const ProofAgrees = 0.1

// ProofLeast is the least voltage that proves a meter, in volt: it must be told
// from what open leads pick up (the project's own choice).
const ProofLeast = 1.0

// NewMeterProof judges a trial. The magnitudes are compared: leads the other way
// round show a working meter as well.
func NewMeterProof(source string, expected, read, resolution float64) MeterProof {
	off := math.Abs(math.Abs(read) - math.Abs(expected))
	return MeterProof{Source: source, Expected: expected, Read: read, Resolution: resolution, Good: off <= float64(ProofAgrees*math.Abs(expected))}
}

// Text returns the proof as the text of an act.
func (p MeterProof) Text() string { return asText(p) }

// ParseMeterProof reads the text of an [ActProve].
func ParseMeterProof(text string) (MeterProof, error) {
	var p MeterProof
	if err := json.Unmarshal([]byte(text), &p); err != nil {
		return p, fmt.Errorf("the proof of a meter cannot be read: %w", err)
	}
	if p.Source == "" || !(math.Abs(p.Expected) >= ProofLeast) || math.IsInf(p.Expected, 0) {
		return p, fmt.Errorf("the proof of a meter needs a source of at least %g V", ProofLeast)
	}
	return p, nil
}

func asText(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "" // a figure that is no number: Validate refuses it
	}
	return string(b)
}
