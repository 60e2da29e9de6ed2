package kind

import (
	"math"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// bounded puts the rule's own bounds in force. About the rail's voltage they
// stand for the rail's; about one channel that the rule names they are plain
// limits of whatever it measures, where low is the smaller figure.
func (b *band) bounded() {
	own := b.Rule.Bounds
	if own == (capture.Bounds{}) {
		return
	}
	b.Rail.Bounds = own
	if b.own = b.Rule.Of != ""; !b.own {
		return
	}
	// A nominal above nought: nothing is turned to magnitudes, and a band that is
	// open on one side is a tenth of its edge wide.
	b.Rail.Nominal = 1
	if edge, _ := own.Edge(0); edge != 0 {
		b.Rail.Nominal = math.Abs(edge)
	}
}

// judgement puts the mean in words.
func (b *band) judgement() string {
	if !b.own {
		return uncertainty.JudgeRail(b.Rail, b.u).Say
	}
	o, distance := uncertainty.Decide(b.u.Value, b.u.Expanded, b.Rail.Bounds)
	switch away := b.unit().Text(abs(distance), max(b.last.Resolution, twoDigits(distance))); {
	case o == capture.Pass:
		return "Inside"
	case o != capture.Fail:
		return "Cannot tell: " + away + " from the edge, " + b.source() + " ± " + b.digits(b.u.Expanded)
	case b.u.Value > b.Rail.Bounds.High:
		return "High by " + away
	default:
		return "Low by " + away
	}
}

// source names what the figure's uncertainty is of: a formula rests on several
// meters.
func (b *band) source() string {
	if b.u.Given > 0 {
		return "figure"
	}
	return "meter"
}

// edgeText prints an edge of the bounds.
func (b *band) edgeText(v float64) string {
	if b.own {
		return b.digits(v)
	}
	return b.declared(v)
}

// advice is what to do about the rail's voltage.
func (b *band) advice(text string) string {
	if b.own {
		return "look at what it is made of, one by one"
	}
	return text
}
