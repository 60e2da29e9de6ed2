package rules

import (
	"sync"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// LimitOf returns what a kind's limit is written in.
func LimitOf(name string) kind.Measure {
	k, _ := kind.Find(name)
	if k.Name == "" {
		return kind.Measure{Unit: capture.Volt}
	}
	return k.Limit
}

// RailAgainst reports whether a rule holds its rail against another rail.
func RailAgainst(r capture.Rule) bool { return kind.RailAgainst(r) }

// ChannelAgainst reports whether a rule may hold what it judges against a
// channel.
func ChannelAgainst(r capture.Rule) bool {
	k, _ := kind.Find(r.Kind)
	return k.Against == kind.AgainstChannel
}

// pictures are drawn once: they are the same on every bench.
var pictures = sync.OnceValue(func() (out []capture.KindPicture) {
	for _, k := range kind.Table() {
		out = append(out, picture(k.Name))
	}
	return out
})

// Catalogue lists every kind with what it judges, what follows from each of the
// rails where a rule says nothing, and a picture that its own judge made.
func Catalogue(rails []capture.Rail) []capture.KindInfo {
	var out []capture.KindInfo
	for i, k := range kind.Table() {
		info := capture.KindInfo{Name: k.Name, About: k.About, Follows: k.Implied != nil, Dead: k.Need == kind.Dead, Acts: k.Need == kind.Always, Picture: pictures()[i]}
		for _, r := range rails {
			info.Defaults = append(info.Defaults, capture.KindDefault{Rail: r.Name, Say: k.Default(r)})
		}
		out = append(out, info)
	}
	return out
}
