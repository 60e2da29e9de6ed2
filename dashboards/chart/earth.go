package chart

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// Low is a low lead that stands on a net of the board.
type Low struct {
	Channel string // "dmm/volts"
	Word    string // "low", "minus" or "bare sensor"
	Net     string // it stands on
	Earth   bool   // the net is earth itself
	Tie     string // "earthed", "isolated" or "not stated"
	Shorted bool   // it takes part in a short
}

const (
	earthStep = 34.0
	// A lead has so much of a line at the least: three of them, and names of nets of
	// a usual length, stand on a phone in letters of full size.
	earthPitch, earthMargin = 76.0, 20.0
	// The names of the nets stand left of the lines, at most so wide.
	earthNames, earthNamesMost = 110.0, 290.0
)

// Earth draws the nets of a board as lines from top to bottom of the page, the low
// leads that stand on them, and the earth line that some of them are tied to.
// What is not stated is drawn dashed, for it counts as tied. Without lows it
// draws nothing.
func Earth(lows []Low) string {
	if len(lows) == 0 {
		return ""
	}
	nets := netsOf(lows)
	left := earthNames
	for _, net := range nets {
		left = min(max(left, wide(net, 13)+14), earthNamesMost)
	}
	pitch := earthPitch
	for _, l := range lows {
		pitch = max(pitch, wide(l.name(), 13)+14)
	}
	right := left + pitch*float64(len(lows))
	height := earthStep*float64(len(nets)+1) + 44
	var p pen
	p.open("svg", at{"viewBox", "0 0 " + num(right+earthMargin) + " " + num(height), "width", num(right + earthMargin), "height", num(height), "role", "img", "aria-label", EarthWords(lows), "class", "chart earth"})
	for i, net := range nets {
		y := earthStep * float64(i+1)
		p.say("strong", "end", left-10, y+5, capture.TrueMinus(net))
		p.line("c-axis", left, y, right, y)
	}
	ground := earthStep*float64(len(nets)) + 52
	p.say("strong", "end", left-10, ground+5, "earth")
	p.line("c-edge", left, ground, right, ground)
	for i, l := range lows {
		x := left + pitch*(float64(i)+0.5)
		y := earthStep * float64(slices.Index(nets, l.Net)+1)
		if l.Earth {
			y = ground
		}
		p.low(l, x, y, ground)
	}
	p.shut("svg")
	return p.String()
}

// low draws one lead: a dot on its net, its name, and the wire to earth.
func (p *pen) low(l Low, x, y, ground float64) {
	state := ""
	if l.Shorted {
		state = " out"
	}
	if l.Tie != "isolated" && !l.Earth {
		a := at{"x1", num(x), "y1", num(y), "x2", num(x), "y2", num(ground), "fill", "none"}
		if l.Tie != "earthed" {
			a = append(a, "stroke-dasharray", "5 4")
		}
		p.shape("line", "c-mean"+state, a)
		p.shape("circle", "c-dot"+state, at{"cx", num(x), "cy", num(ground), "r", "4"})
	}
	p.shape("circle", "c-dot"+state, at{"cx", num(x), "cy", num(y), "r", "5"})
	class := "halo"
	if l.Shorted {
		class = "bad halo"
	}
	p.say(class, "middle", x, y-9, l.name())
}

// name is that of its instrument.
func (l Low) name() string {
	name, _, _ := strings.Cut(l.Channel, "/")
	return name
}

// netsOf lists the nets in the order of the lows, without earth.
func netsOf(lows []Low) []string {
	var out []string
	for _, l := range lows {
		if !l.Earth && !slices.Contains(out, l.Net) {
			out = append(out, l.Net)
		}
	}
	return out
}

// EarthWords says in one line what the drawing shows.
func EarthWords(lows []Low) string {
	var parts []string
	for _, l := range lows {
		parts = append(parts, l.Words())
	}
	return strings.Join(parts, " ")
}

// Words says where a lead stands and what it is tied to.
func (l Low) Words() string {
	words := l.Channel + ": its " + l.Word + " is on " + capture.TrueMinus(l.Net)
	switch {
	case l.Earth:
	case l.Tie == "earthed":
		words += ", tied to earth"
	case l.Tie == "isolated":
		words += ", isolated from earth"
	default:
		words += ", not stated to be isolated: counts as tied to earth"
	}
	if l.Shorted {
		words += "; this shorts it to another net"
	}
	return words + "."
}
