package earth

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// Tie tells whether a low is tied to earth.
type Tie uint8

// The ties. What is not stated counts as tied in every judgement.
const (
	Free Tie = iota
	NotStated
	Earthed
)

// String returns "isolated", "not stated" or "earthed".
func (t Tie) String() string {
	return [...]string{"isolated", "not stated", "earthed"}[t]
}

// Low is the low lead of a channel and what it stands on.
type Low struct {
	Channel capture.ChannelID
	Net     Net
	Tie     Tie
	Word    string // what it is called: "low", "minus" or "bare sensor"
	key     string // lows with one key are one wire
	why     string // how it is tied: "through its port"
	state   string // what to state in the configuration when it is not so
}

// String names the low by its instrument: "dmm's low".
func (l Low) String() string { return l.Channel.Instrument() + "'s " + l.Word }

// Board is a job's board and what stands on it. The zero value is a board
// without rails on a bench without instruments.
type Board struct {
	Rails       []capture.Rail
	Instruments []capture.InstrumentInfo
	// Placed holds the placement of every channel that is on something now. One of a
	// channel that no instrument here has is passed over: a meter read by eye runs
	// from its battery and has no port.
	Placed []capture.Placement
	// Others holds the lows that stand on other boards of the bench, see [Board.Beyond].
	Others []Low
	// Vouches holds what a person knows better than the ratings say.
	Vouches []Vouch
}

// Lows lists the low leads that stand on the board, in the order of Placed.
func (b Board) Lows() []Low {
	var out []Low
	for _, p := range b.Placed {
		if l, ok := b.low(p); ok {
			out = append(out, l)
		}
	}
	return out
}

// low returns the low lead of a placement; false when it has none: a channel on
// nothing, one that is not known, or an insulated sensor.
func (b Board) low(p capture.Placement) (Low, bool) {
	in, ch, ok := b.channel(p.Channel)
	if !ok || p.Rail == "" && p.Point == "" {
		return Low{}, false
	}
	sensor := ch.Quantity == capture.Temperature
	if sensor && in.Isolation.Sensor == "insulated" {
		return Low{}, false
	}
	l := Low{Channel: p.Channel, Net: b.netOf(p, ch), Word: "low", key: in.Name}
	if in.Isolation.Channels == "isolated" {
		l.key = in.Name + "/" + ownInput(ch)
	}
	switch {
	case sensor:
		l.Word = "bare sensor"
		l.tie(in.Isolation.Port, "through its port", "isolation: {port: isolated}")
	case sources(in, ch):
		l.Word = "minus"
		l.tie(floats(in.Isolation.Output), "at its output", "isolation: {output: floating}")
	default:
		l.tie(in.Isolation.Port, "through its port", "isolation: {port: isolated}")
	}
	return l, true
}

func (l *Low) tie(stated, why, state string) {
	l.why, l.state = why, state
	switch stated {
	case "isolated":
		l.Tie = Free
	case "earthed":
		l.Tie = Earthed
	default:
		l.Tie = NotStated
	}
}

// floats says "floating" as the port says it.
func floats(output string) string {
	if output == "floating" {
		return "isolated"
	}
	return output
}

// sources reports whether a channel tells of an output or a load's input. Its
// port says nothing about its minus: bench supplies float beside an earthed port
// until somebody puts the strap on (common practice).
func sources(in capture.InstrumentInfo, ch capture.ChannelInfo) bool {
	return ch.Setpoint || len(in.Outputs) > 0 || slices.Contains(in.Acts, "output") || slices.Contains(in.Acts, "input")
}

// ownInput names the pair of sockets of a channel: channels of a group share it.
func ownInput(ch capture.ChannelInfo) string {
	if ch.Group != "" {
		return "group " + ch.Group
	}
	return string(ch.ID)
}

// netOf finds the net under a low lead. What the placement says comes first. A
// sensor is on what it touches. An ammeter stands in the line, so that its low is
// on the rail itself (a supply's own ammeter is within it). Else it is the rail's
// return, or that of the board.
func (b Board) netOf(p capture.Placement, ch capture.ChannelInfo) Net {
	r, onRail := b.rail(p.Rail)
	mains := onRail && r.Side == capture.Mains
	current := ch.Quantity == capture.DCCurrent || ch.Quantity == capture.ACCurrent
	switch {
	case p.Return != "":
		return b.net(p.Return, mains)
	case p.Rail != "" && (ch.Quantity == capture.Temperature || current && !ch.Setpoint):
		return b.net(p.Rail, mains)
	case ch.Quantity == capture.Temperature:
		return Net{Name: "the net at " + strings.TrimSpace(p.Point), Unknown: true, key: "point:" + fold(p.Point)}
	case onRail:
		return b.net(returnOf(r), mains)
	}
	return b.net(b.commonReturn(), false)
}

func (b Board) channel(id capture.ChannelID) (capture.InstrumentInfo, capture.ChannelInfo, bool) {
	for _, in := range b.Instruments {
		for _, ch := range in.Channels {
			if ch.ID == id {
				return in, ch, true
			}
		}
	}
	return capture.InstrumentInfo{}, capture.ChannelInfo{}, false
}
