package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/elementary"
)

// otherFigure is how far, as a logarithm, a rail with parts off may lie from
// what the sheet leaves on it before the sheet's figure is in question: three
// standard deviations of healthy parts.
const otherFigure = 3 * healthySpread

// figures words the contradictions that may be no fault of any entry: a rail
// that was read with a part off, no short, and that reads otherwise than the
// parts which the sheet leaves there. The sheet may have the figures of another
// revision. What remains contradicts indeed.
func (b Board) figures(list []Contradiction, log []Entry) {
	var off stand
	stands := make([]stand, len(log))
	for i, e := range log {
		off = off.after(e)
		stands[i] = off
	}
	for i := range list {
		for _, n := range list[i].Entries {
			if say := b.figure(log[n-1], stands[n-1]); say != "" {
				list[i].Figure, list[i].Say = true, say
				break
			}
		}
	}
}

// figure names the sheet's figure that an entry does not go with; empty: it is
// none such.
func (b Board) figure(e Entry, off stand) string {
	r, known := b.Rail(e.At.Subject)
	lifted := b.offFrom(e.At.Subject, off)
	if !known || e.At.Where != Ohms || len(lifted) == 0 || e.Value < shortOf(r) || math.IsInf(e.Value, 1) {
		return ""
	}
	left, names := b.left(r.Name, off)
	if left == 0 || math.Abs(elementary.Log(e.Value*left)) <= otherFigure {
		return ""
	}
	out := fmt.Sprintf("%s reads %s with %s off; by the sheet %s stay on it, together %s.", r.Name, b.read(e), capture.Listed(lifted), capture.Listed(names), rounded(1/left))
	if e.Value*left < 1 {
		out += fmt.Sprintf(" Either the sheet has a figure of another revision, or something on the rail leaks by about %s.", rounded(1/(1/e.Value-left)))
	} else {
		out += " Either the sheet has a figure of another revision, or something of that is not connected or open."
	}
	return out + " " + b.tellApart(r.Name, off, left)
}

// offFrom lists the parts that are off and leave the rail less to carry.
func (b Board) offFrom(rail string, off stand) []string {
	return slices.DeleteFunc(slices.Clone([]string(off)), func(part string) bool { return !slices.Contains(b.railsOf(part), rail) })
}

// left is the conductance, in siemens, of the parts that are on the rail, and
// their names with their figures.
func (b Board) left(rail string, off stand) (g float64, names []string) {
	for _, p := range b.branches(rail) {
		if !off.without(p.part) && !off.without(p.connector) {
			g += 1 / p.ohms
			names = append(names, p.part+" "+rounded(p.ohms))
		}
	}
	return g, names
}

// branch is a part that loads a rail.
type branch struct {
	part, connector string
	ohms            float64
}

func (b Board) branches(rail string) []branch {
	var out []branch
	for _, l := range b.Loads {
		if l.Rail == rail {
			out = append(out, branch{l.Name, l.Connector, l.Ohms})
		}
	}
	for _, c := range b.Converters {
		if c.Out == rail {
			out = append(out, branch{part: c.Name, ohms: c.Ohms})
		}
		if c.In == rail {
			out = append(out, branch{part: c.Name, ohms: c.InOhms})
		}
	}
	return out
}

// tellApart says what to measure: without the part that makes most of what the
// sheet leaves, the rail reads the sheet's rest or it does not.
func (b Board) tellApart(rail string, off stand, left float64) string {
	var most branch
	for _, p := range b.branches(rail) {
		comes := p.connector
		if comes == "" {
			comes = p.part
		}
		if _, removable := b.removable(comes); removable && !off.without(comes) && (most.ohms == 0 || p.ohms < most.ohms) {
			most = branch{p.part, comes, p.ohms}
		}
	}
	const board = "A board of the same revision that is well, read with the same parts off, tells which."
	if most.ohms == 0 {
		return board
	}
	rest, _ := b.left(rail, off.remove(most.connector))
	if rest == 0 {
		return board
	}
	return fmt.Sprintf("%s and read again: by the sheet %s remain then. If so, the difference was in %s: read it by itself; if not, it is in what stays. %s", b.sayRemove(most.connector), rounded(1/rest), most.part, board)
}

// read is an entry's resistance as it was written, without its rail.
func (b Board) read(e Entry) string {
	return strings.TrimPrefix(e.Text, e.At.Subject+" ")
}

// rounded prints a resistance with three digits.
func rounded(ohm float64) string { return capture.Ohm.Text(ohm, capture.Decade(ohm)/100) }
