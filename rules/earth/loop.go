package earth

import (
	"slices"

	"steadyrail/capture"
)

// Loop is a short that a low lead makes from one net to another, or from the
// mains side to earth.
type Loop struct {
	// New is the lead in question, Other the standing one that closes the loop.
	// Other is the zero Low when the mains side meets earth through New alone.
	New, Other Low
	// From and To are shorted to each other.
	From, To     Net
	ThroughEarth bool // else through a low that both channels share
}

// node is what the search stands on: earth, a low by its key, or a net.
type node struct {
	kind byte // 'e', 'l' or 'n'
	key  string
}

// graph holds who touches whom. Lows come in the order of the placements, so
// that a search meets the same loop every time.
type graph struct {
	lows []Low
}

// next lists the neighbours of a node. Nets end a search: what lies behind
// another net is shorted through that one.
func (g graph) next(at node) []node {
	var out []node
	for _, l := range g.lows {
		low := node{'l', l.key}
		tied := l.Net.Earth || l.Tie != Free
		switch {
		case at == low:
			if tied {
				out = append(out, node{'e', ""})
			}
			if !l.Net.Earth {
				out = append(out, node{'n', l.Net.key})
			}
		case at.kind == 'e' && tied:
			out = append(out, low)
		}
	}
	return out
}

// reach walks from a node, through earth and lows, and returns what it met in
// order of distance.
func (g graph) reach(from node) []node {
	seen := []node{from}
	for i := 0; i < len(seen); i++ {
		if seen[i].kind == 'n' {
			continue
		}
		for _, n := range g.next(seen[i]) {
			if !slices.Contains(seen, n) {
				seen = append(seen, n)
			}
		}
	}
	return seen
}

// Loop returns the loop that a placement would close, and whether it closes one.
// What the placement ends is not counted: where its channel was, and the other
// channels of its shared input, which are taken off by the bus.
func (b Board) Loop(p capture.Placement) (Loop, bool) {
	b.Placed = b.without(p.Channel)
	fresh, ok := b.low(p)
	if !ok {
		return Loop{}, false
	}
	g := graph{slices.Concat(b.Lows(), b.beyond(p.Channel), []Low{fresh})}
	nets := g.netsFrom(fresh)
	switch {
	case fresh.Net.Earth && len(nets) >= 2:
		return b.loop(g, fresh, nets[0], nets[1]), true
	case fresh.Net.Earth && len(nets) == 1 && nets[0].Mains:
		return b.loop(g, fresh, nets[0], earthNet), true
	case fresh.Net.Earth:
		return Loop{}, false
	}
	if i := slices.IndexFunc(nets, func(n Net) bool { return n.key != fresh.Net.key }); i >= 0 {
		return b.loop(g, fresh, fresh.Net, nets[i]), true
	}
	if fresh.Net.Mains && g.earthed(fresh) {
		return b.loop(g, fresh, fresh.Net, earthNet), true
	}
	return Loop{}, false
}

// netsFrom lists the nets that a low reaches, its own among them.
func (g graph) netsFrom(l Low) []Net {
	var out []Net
	for _, n := range g.reach(node{'l', l.key}) {
		if n.kind != 'n' {
			continue
		}
		i := slices.IndexFunc(g.lows, func(o Low) bool { return o.Net.key == n.key })
		out = append(out, g.lows[i].Net)
	}
	return out
}

func (g graph) earthed(l Low) bool { return slices.Contains(g.reach(node{'l', l.key}), node{'e', ""}) }

// loop finds the standing lead on the far net and says what the two meet in.
func (b Board) loop(g graph, fresh Low, from, to Net) Loop {
	l := Loop{New: fresh, From: from, To: to, ThroughEarth: true}
	far := to
	if far.Earth {
		far = from
	}
	others := g.lows[:len(g.lows)-1]
	shares := func(o Low) bool { return o.Net.key == far.key && o.key == fresh.key }
	i := slices.IndexFunc(others, shares)
	if i >= 0 && !to.Earth && !fresh.Net.Earth {
		l.ThroughEarth = false
	}
	if i < 0 {
		i = slices.IndexFunc(others, func(o Low) bool { return o.Net.key == far.key && g.earthed(o) })
	}
	if to.Earth { // the lead that ties the mains side to earth, where it is not the new one
		i = slices.IndexFunc(others, func(o Low) bool { return o.key == fresh.key && (o.Net.Earth || o.Net.key == far.key) })
	}
	if i >= 0 {
		l.Other = others[i]
	}
	return l
}

// without lists the placements that stay when a channel is put elsewhere.
func (b Board) without(id capture.ChannelID) []capture.Placement {
	in, ch, _ := b.channel(id)
	return slices.DeleteFunc(slices.Clone(b.Placed), func(p capture.Placement) bool {
		other, o, ok := b.channel(p.Channel)
		return p.Channel == id || ok && other.Name == in.Name && ch.Group != "" && o.Group == ch.Group
	})
}

// Standing returns the first loop that already stands: one that was placed before
// the instruments were known for what they are.
func (b Board) Standing() (Loop, bool) { return b.StandingOf("") }

// StandingOf is [Board.Standing] for the leads of one instrument; "" means all.
func (b Board) StandingOf(instrument string) (Loop, bool) {
	for _, p := range b.Placed {
		if instrument != "" && p.Channel.Instrument() != instrument {
			continue
		}
		if l, ok := b.Loop(p); ok {
			return l, true
		}
	}
	return Loop{}, false
}
