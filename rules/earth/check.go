package earth

import (
	"fmt"
	"math"

	"steadyrail/capture"
)

// Refusal says why a lead may not go on.
type Refusal struct {
	Detail string   // one sentence or several
	Loop   []string // the wires of a loop, in sentences; none when it is no loop
	Advice string   // what may be done about it
	// Unrated is what a person would have to vouch for, see [Board.Vouches]; the zero
	// value for a loop.
	Unrated Vouch
	Final   bool // on the mains side nobody's word counts
}

// Check judges a placement before the lead goes on. A nil Refusal allows it; the
// cautions stand beside the work either way.
func (b Board) Check(p capture.Placement) (*Refusal, []string) {
	in, ch, ok := b.channel(p.Channel)
	if !ok || p.Rail == "" && p.Point == "" {
		return nil, nil
	}
	var cautions []string
	for _, r := range b.touched(p, ch) {
		if why := Unrated(in, r); why != "" && !b.vouched(in, r) {
			return &Refusal{Detail: why, Advice: rated(r), Unrated: Vouch{in.Name, r.Name}, Final: r.Side == capture.Mains}, nil
		}
		cautions = append(cautions, Cautions(in, r)...)
	}
	if l, loops := b.Loop(p); loops {
		return &Refusal{Detail: l.String(), Loop: l.Steps(), Advice: l.Advice()}, cautions
	}
	return nil, cautions
}

// touched lists the rails that either lead of a placement is on, one name once.
// A sensor whose net nobody gave may be on any, so that a mains side counts.
func (b Board) touched(p capture.Placement, ch capture.ChannelInfo) []capture.Rail {
	var out []capture.Rail
	hot, onRail := b.rail(p.Rail)
	if onRail {
		out = append(out, hot)
	}
	low := b.netOf(p, ch)
	if r, ok := b.rail(low.Name); ok && r.Name != hot.Name {
		return append(out, r)
	}
	for _, r := range b.Rails {
		if r.Side == capture.Mains && (low.Unknown || low.Mains && !onRail) {
			return append(out, r)
		}
	}
	return out
}

// rated says what to do about an instrument that is not rated for a rail.
func rated(r capture.Rail) string {
	if r.Side != capture.Mains {
		return "use an instrument and probes that are rated for it"
	}
	volts := plate(Need(r).Volts)
	return fmt.Sprintf("an earthed or unknown instrument there is a short through earth; use one that is isolated and rated %s, and state what stands on it and in its manual, such as isolation: {category: \"CAT II %g V\", port: isolated, port_volts: %g}", Need(r), volts, volts)
}

// plate is the rating beside an instrument's sockets that covers so many volts:
// 300, 600 and 1000 are what instruments are rated for (common practice).
func plate(volts float64) float64 {
	for _, rated := range []float64{300, 600, 1000} {
		if volts <= rated {
			return rated
		}
	}
	return math.Ceil(volts)
}
