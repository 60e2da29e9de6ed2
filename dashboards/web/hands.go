package web

import (
	"strconv"
	"time"

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
	Lost   float64     `json:"lost"`  // seconds on the wall for which bench time stood still: the computer was busy
	Faults []HandFault `json:"faults"`
	Usage  []string    `json:"usage"` // a line for each thing that hands do
}

// Lag says how far bench time has fallen behind, "" where that is not notable.
func (h Hands) Lag() string { return BenchLag(h.Lost) }

// notable is how far bench time falls behind before anybody is told, in seconds:
// less is lost in the ordinary course of a start.
const notable = 3

// BenchLag says that bench time stood still for so many seconds on the wall, "" where
// that is not notable.
func BenchLag(lost float64) string {
	if lost < notable {
		return ""
	}
	span := time.Duration(lost) * time.Second
	return "Bench time stood still for " + lasting(span) + " of the wall clock so far: this computer was busy. It is not made up for; nothing measured is affected, a wait takes that much longer"
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
