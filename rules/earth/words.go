package earth

import (
	"fmt"
	"strings"
)

// Steps tells the loop in sentences, one wire after the other: where the lead
// would be, what it is tied to, what stands at the far end, and what is shorted.
func (l Loop) Steps() []string {
	steps := []string{fmt.Sprintf("%s would be on %s.", l.New, l.New.Net)}
	switch {
	case !l.ThroughEarth:
		steps = append(steps, fmt.Sprintf("%s stands on %s and shares that low.", l.Other.Channel, l.Other.Net))
		return append(steps, fmt.Sprintf("%s would be shorted to %s through the low that the two channels share.", l.From, l.To))
	case l.New.Net.Earth:
		steps = append(steps, fmt.Sprintf("The same low is on %s.", l.From))
	default:
		steps = append(steps, tied(l.New))
	}
	if o := l.Other; o.Channel != "" && o.key != l.New.key {
		steps = append(steps, tied(o), fmt.Sprintf("%s stands on %s.", o, o.Net))
	}
	if l.To.Earth {
		steps = append(steps, "The mains side is tied to earth by the supply system.")
	}
	return append(steps, l.result())
}

func (l Loop) result() string {
	if l.To.Earth {
		return fmt.Sprintf("%s would be shorted to earth.", l.From)
	}
	return fmt.Sprintf("%s would be shorted to %s through earth.", l.From, l.To)
}

// tied tells how a low that meets earth does so.
func tied(l Low) string {
	switch {
	case l.Net.Earth:
		return fmt.Sprintf("%s is on earth itself.", l)
	case l.Tie == Free:
		return fmt.Sprintf("%s shares its low with a lead that stands on earth.", l.Channel)
	case l.Tie == Earthed:
		return fmt.Sprintf("%s is tied to earth %s.", l, l.why)
	}
	return fmt.Sprintf("%s is not stated to be isolated, and counts as tied to earth %s.", l, l.why)
}

// String is all steps in one line.
func (l Loop) String() string { return strings.Join(l.Steps(), " ") }

// Advice says what may be done about it, the simplest first.
func (l Loop) Advice() string {
	var all []string
	if o := l.Other.Channel; o != "" {
		all = append(all, fmt.Sprintf("take %s off first (steadyrail place %s)", o, o))
		if !l.New.Net.Unknown && !l.Other.Net.Earth && !l.From.Mains && !l.To.Mains {
			all = append(all, fmt.Sprintf("put the lead of %s on %s too, and say so with --return %q: the reading changes its sign or its meaning", l.New.Channel, l.Other.Net.Name, l.Other.Net.Name))
		}
	}
	for _, low := range []Low{l.New, l.Other} {
		if low.Channel != "" {
			all = append(all, l.about(low)...)
		}
	}
	if l.New.Tie == Earthed && l.New.Word != "bare sensor" {
		all = append(all, "use an instrument whose low is isolated from earth")
	}
	return strings.Join(all, "; or ")
}

// about says what to state of one low, when it is so.
func (l Loop) about(low Low) []string {
	name := low.Channel.Instrument()
	var out []string
	if low.Net.Unknown {
		out = append(out, fmt.Sprintf("say which net the sensor of %s touches with --return", low.Channel))
	}
	if low.Word == "bare sensor" {
		out = append(out, fmt.Sprintf("insulate the sensor and state it: isolation: {sensor: insulated} for %s", name))
	}
	switch {
	case !l.ThroughEarth && low.Channel == l.New.Channel:
		out = append(out, fmt.Sprintf("if the channels of %s are isolated from each other, state it: isolation: {channels: isolated}", name))
	case l.ThroughEarth && low.Tie == NotStated:
		out = append(out, fmt.Sprintf("if it is so, state in the configuration of %s: %s", name, low.state))
	}
	return out
}
