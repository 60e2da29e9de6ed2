package web

import (
	"strconv"

	"steadyrail/capture"
)

// Hands is what hands can do on a simulated bench, and where they left things.
type Hands struct {
	Probes []HandProbe `json:"probes"`
	Points []string    `json:"points"` // where a meter's probe can go
	Warm   []string    `json:"warm"`   // where the thermometer's bead can go
	Parts  []HandPart  `json:"parts"`
	Feed   string      `json:"feed"` // what the supply's leads are on
	Feeds  []string    `json:"feeds"`
	Speed  float64     `json:"speed"` // bench seconds a second
	Faults []HandFault `json:"faults"`
	Usage  []string    `json:"usage"` // a line for each thing that hands do
}

// HandProbe is a probe, or the thermometer's bead.
type HandProbe struct {
	Meter string `json:"meter"`
	At    string `json:"at"`   // "": in the air
	Clip  bool   `json:"clip"` // held by a clip, not by a hand
	Bead  bool   `json:"bead"` // of the thermometer
}

// HandPart is a part that can be unplugged or fitted.
type HandPart struct {
	Name string `json:"name"`
	In   bool   `json:"in"`
}

// HandFault is something that can go wrong.
type HandFault struct {
	Name  string `json:"name"`
	Usage string `json:"usage"`
	Says  string `json:"says"`
}

// HandsAnswer is what came of the last thing that was done.
type HandsAnswer struct {
	Hands
	Said  string
	Wrong string
}

// Turns are the touches of the trimmer that have a button.
func (HandsAnswer) Turns() []string {
	return []string{capture.MinusSign + "5", capture.MinusSign + "1", capture.MinusSign + "0.25", "0.25", "1", "5"}
}

// Speeds are those that have a button.
func (HandsAnswer) Speeds() []string { return []string{"1", "10", "60", "600"} }

// Pace says how fast bench time runs.
func (h Hands) Pace() string {
	if h.Speed == 1 {
		return "as fast as the clock on the wall"
	}
	return "up to " + strconv.FormatFloat(h.Speed, 'g', 3, 64) + " times as fast as the clock on the wall"
}
