package earth

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// Another board on the same bench meets this one in two ways: in the lows of the
// instruments, each of which is one wire however many jobs are open, and in
// earth. Its nets are nets of their own, but for a secondary return of the same
// name: boards of one set, or on one supply, have it in common, and two that have
// not share no current through it. Their mains sides have nothing in common but
// the name.

// Beyond lists the low leads that stand on a board as the check of another one
// meets them.
func (b Board) Beyond(job string) []Low {
	out := b.Lows()
	for i := range out {
		if n := &out[i].Net; !b.inCommon(*n) {
			n.Name += " of " + job
			n.key = "job:" + job + ":" + n.key
		}
	}
	return out
}

// inCommon reports whether a net may be one of another board's of the same name.
func (b Board) inCommon(n Net) bool {
	_, hot := b.rail(n.Name)
	return n.Earth || !n.Mains && !n.Unknown && !hot
}

// beyond lists the low leads on other boards that stay when a channel is put
// elsewhere.
func (b Board) beyond(id capture.ChannelID) []Low {
	in, ch, _ := b.channel(id)
	return slices.DeleteFunc(slices.Clone(b.Others), func(l Low) bool {
		other, o, ok := b.channel(l.Channel)
		return l.Channel == id || ok && other.Name == in.Name && ch.Group != "" && o.Group == ch.Group
	})
}

// Vouch is a person's word that an instrument may stand on a rail for which its
// rating, as it was stated, does not reach. It is never taken for the mains side.
type Vouch struct{ Instrument, Rail string }

// String is how a vouch is written as the subject of an act.
func (v Vouch) String() string { return v.Instrument + " on " + v.Rail }

// ParseVouch reads what [Vouch.String] wrote.
func ParseVouch(text string) (Vouch, bool) {
	instrument, rail, ok := strings.Cut(text, " on ")
	return Vouch{instrument, rail}, ok && instrument != "" && rail != ""
}

// vouched reports whether somebody knows better than what is stated.
func (b Board) vouched(in capture.InstrumentInfo, r capture.Rail) bool {
	return r.Side != capture.Mains && slices.Contains(b.Vouches, Vouch{in.Name, r.Name})
}
