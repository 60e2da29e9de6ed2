package kind

import (
	"steadyrail/capture"
)

// Against says what Rule.Against names for a kind.
type Against uint8

// What a rule may be held against.
const (
	AgainstNothing Against = iota
	AgainstChannel         // may name a channel
	AgainstRail            // must name a rail
	AgainstOutput          // must name an output
)

// Kind is a line of the table.
type Kind struct {
	Name    string
	About   string // what it judges, in one sentence
	Listen  Listen
	Need    Need
	Falls   int                                     // 1 and up: says that a rail went down; a lower one explains higher ones
	Level   bool                                    // one reading beyond the limit and then silence is no alarm
	Against Against                                 // what Rule.Against names
	Limit   Measure                                 // what Rule.Limit, and a deadband, are written in
	Limited bool                                    // it reads Rule.Limit: others go by two bounds, by readings, time and state
	Asks    bool                                    // no limit follows from a rail: one must be written
	Implied func(capture.Rail) (capture.Rule, bool) // the rule that follows from a rail; nil: none does
	OnlyIf  func(capture.Roster) bool               // that it follows only on such a bench; nil: on any
	Default func(capture.Rail) string               // what follows from a rail where the rule says nothing
	New     func(Case) Judge
}

// Table lists every kind: one line for each, with the words about it.
func Table() []Kind {
	volts := Listen{Quantity: capture.DCVoltage}
	any := Listen{Quantity: capture.DCVoltage, Any: true}
	heat := Listen{Quantity: capture.Temperature}
	amps := Listen{Quantity: capture.DCCurrent, Either: true}
	ohms, kelvin, ampere := Measure{Unit: capture.Ohm}, Measure{Unit: capture.Celsius, Kelvin: true}, Measure{Unit: capture.Ampere}
	volt, hourly := Measure{Unit: capture.Volt}, Measure{Unit: capture.Volt, Hourly: true}
	return []Kind{
		{Name: "collapse", About: aboutCollapse, Listen: volts, Limit: volt, Limited: true, Need: Live, Falls: 1, Implied: impliedCollapse, Default: defaultCollapse, New: newCollapse},
		{Name: "missing", About: aboutMissing, Listen: volts, Limit: volt, Limited: true, Need: Live, Falls: 2, Implied: impliedMissing, Default: defaultMissing, New: newMissing},
		{Name: "band", About: aboutBand, Listen: any, Limit: volt, Need: Live, Falls: 3, Implied: impliedBand, Default: defaultBand, New: newBand},
		{Name: "silent", About: aboutSilent, Listen: any, Limit: volt, Need: Live, Implied: impliedSilent, Default: defaultSilent, New: newSilent},
		{Name: "auto-off", About: aboutAutoOff, Listen: any, Limit: volt, Need: Live, Implied: impliedAutoOff, OnlyIf: anySleeper, Default: defaultAutoOff, New: newAutoOff},
		{Name: "short", About: aboutShort, Listen: Listen{Quantity: capture.Resistance}, Limit: ohms, Limited: true, Need: Dead, Implied: impliedShort, Default: defaultShort, New: newShort},
		{Name: "limiting", About: aboutLimiting, Listen: Listen{ReadBack: true}, Limit: ampere, Need: Live, Default: defaultLimiting, New: newLimiting},
		{Name: "restarts", About: aboutRestarts, Listen: volts, Limit: volt, Limited: true, Need: Live, Default: defaultRestarts, New: newRestarts},
		{Name: "drift", About: aboutDrift, Listen: any, Limit: hourly, Limited: true, Need: Live, Default: defaultDrift, New: newDrift},
		{Name: "settled", About: aboutSettled, Listen: any, Limit: volt, Limited: true, Need: Live, Default: defaultSettled, New: newSettled},
		{Name: "unrest", About: aboutUnrest, Listen: any, Limit: volt, Limited: true, Need: Live, Default: defaultUnrest, New: newUnrest},
		{Name: "hot", About: aboutHot, Listen: heat, Limit: kelvin, Limited: true, Need: Live, Level: true, Against: AgainstChannel, Default: defaultHot, New: newHot},
		{Name: "overcurrent", About: aboutOvercurrent, Listen: amps, Limit: ampere, Limited: true, Asks: true, Need: Live, Level: true, Default: defaultOvercurrent, New: newOvercurrent},
		{Name: "frozen", About: aboutFrozen, Listen: any, Limit: volt, Need: Live, Default: defaultFrozen, New: newFrozen},
		{Name: "order", About: aboutOrder, Listen: volts, Limit: volt, Need: Live, Against: AgainstRail, Default: defaultOrder, New: newOrder},
		{Name: "trip", About: aboutTrip, Limit: volt, Against: AgainstOutput, Need: Always, Default: defaultTrip, New: newTrip},
		{Name: "injection", About: aboutInjection, Limit: volt, Against: AgainstOutput, Need: Always, Default: defaultInjection, New: newInjection},
		{Name: "found off", About: aboutFoundOff, Limit: volt, Against: AgainstOutput, Need: Always, Default: defaultFoundOff, New: newFoundOff},
	}
}

// Find returns the line of a kind.
func Find(name string) (Kind, bool) {
	for _, k := range Table() {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}
