package earth

import (
	"strings"
	"unicode"

	"steadyrail/capture"
)

// Net is a conductor that a lead may stand on. Two nets are the same when their
// names are, case and spaces aside, and they lie on the same side: what goes by
// two names is two nets, for a guess here would be a short.
type Net struct {
	Name  string // as people say it
	Mains bool   // on the mains side: tied to earth by the supply system
	Earth bool   // protective earth itself
	// Unknown is the net under a sensor whose point nobody gave a net to.
	Unknown bool
	key     string
}

// String returns the net's name, with its side where it is the mains side.
func (n Net) String() string {
	if n.Mains {
		return n.Name + " (mains side)"
	}
	return n.Name
}

// defaultReturn is the net of a low lead that nobody said anything about.
const defaultReturn = "0 V"

var earthNet = Net{Name: "earth", Earth: true, key: "earth"}

// fold makes names that differ in case, spaces or the kind of minus the same.
func fold(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return -1
		case r == '−':
			return '-'
		}
		return unicode.ToLower(r)
	}, name)
}

func newNet(name string, mains bool) Net {
	n := Net{Name: name, Mains: mains, key: "net:" + fold(name)}
	if mains {
		n.key = "mains:" + fold(name)
	}
	return n
}

// net finds the net that a name means for a lead whose rail lies on a side. A
// rail's name is its hot net. A return that only rails of one side have lies on
// that side: the 0 V of the mains side is not the 0 V of the secondary one.
func (b Board) net(name string, mains bool) Net {
	switch fold(name) {
	case "earth", "pe", "protectiveearth", "safetyearth":
		return earthNet
	}
	if r, ok := b.rail(name); ok {
		return newNet(r.Name, r.Side == capture.Mains)
	}
	var onMains, onSecondary bool
	for _, r := range b.Rails {
		if fold(returnOf(r)) == fold(name) {
			onMains = onMains || r.Side == capture.Mains
			onSecondary = onSecondary || r.Side != capture.Mains
		}
	}
	if onMains != onSecondary {
		mains = onMains
	}
	return newNet(name, mains)
}

func (b Board) rail(name string) (capture.Rail, bool) {
	for _, r := range b.Rails {
		if fold(r.Name) == fold(name) {
			return r, true
		}
	}
	return capture.Rail{}, false
}

func returnOf(r capture.Rail) string {
	if r.Return == "" {
		return defaultReturn
	}
	return r.Return
}

// commonReturn is the return that all secondary rails have; [defaultReturn] when
// they differ.
func (b Board) commonReturn() string {
	name := ""
	for _, r := range b.Rails {
		if r.Side == capture.Mains {
			continue
		}
		if name != "" && fold(name) != fold(returnOf(r)) {
			return defaultReturn
		}
		name = returnOf(r)
	}
	if name == "" {
		return defaultReturn
	}
	return name
}
