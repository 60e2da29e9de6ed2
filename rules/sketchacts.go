package rules

import "steadyrail/capture"

// sketchOutput is the output that the sketches of acts switch.
const sketchOutput = "supply"

// sketchedAct is something that is done in a sketch, t seconds from its beginning.
type sketchedAct struct {
	t   float64
	act capture.Act
}

// actSketches lists the series of the kinds that judge what is done, not what is
// read: the readings show what they are there to prevent.
func actSketches() []sketch {
	off := func(t float64, text, by string) sketchedAct {
		return sketchedAct{t, capture.Act{Verb: capture.ActOutput, Subject: sketchOutput, Text: text, By: by}}
	}
	quiet := flat(0.0015)
	return []sketch{
		{name: "trip", length: 20, every: 0.2, quantity: capture.DCVoltage, low: 4.9, high: 5.1, rule: capture.Rule{Against: sketchOutput},
			value: rough(quiet, step(9, 5, 3.6)), acts: []sketchedAct{off(9.5, capture.SwitchingOff, capture.ByTrip), off(13.5, capture.NotConfirmed, capture.ByTrip)}},
		{name: "injection", length: 90, every: 1, quantity: capture.DCCurrent, low: 0, high: 0.02, rule: capture.Rule{Against: sketchOutput},
			value: rough(flat(0.002), step(10, 0.005, 0.5)), acts: []sketchedAct{
				{10, capture.Act{Verb: capture.ActInject, Subject: sketchOutput, Value: 60, By: capture.ByInject}},
				off(70, capture.SwitchingOff, capture.ByInject), off(74, capture.NotConfirmed, capture.ByInject)}},
		{name: "found off", length: 20, every: 0.2, quantity: capture.DCVoltage, low: 4.9, high: 5.1, rule: capture.Rule{Against: sketchOutput},
			value: rough(quiet, step(9, 5, 0.01)), acts: []sketchedAct{
				{10, capture.Act{Verb: capture.ActReadBack, Subject: sketchOutput, Text: capture.WithTripped("output off", capture.OverCurrent)}}}},
	}
}
