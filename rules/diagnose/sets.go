package diagnose

import (
	"cmp"
	"math/bits"
	"slices"
)

// Set is a set of up to 64 things by number.
type Set uint64

// SetOf makes a set of its members, each 0 to 63.
func SetOf(members ...int) Set {
	var s Set
	for _, m := range members {
		s |= 1 << m
	}
	return s
}

// Members lists the set in ascending order.
func (s Set) Members() []int {
	var out []int
	for ; s != 0; s &= s - 1 {
		out = append(out, bits.TrailingZeros64(uint64(s)))
	}
	return out
}

func (s Set) size() int { return bits.OnesCount64(uint64(s)) }

// Minimal keeps the sets that contain no other of the family, smallest first.
func Minimal(family []Set) []Set {
	sorted := slices.Clone(family)
	slices.SortFunc(sorted, func(a, b Set) int {
		return cmp.Or(cmp.Compare(a.size(), b.size()), cmp.Compare(bits.Reverse64(uint64(b)), bits.Reverse64(uint64(a))))
	})
	var out []Set
	for _, s := range sorted {
		if !slices.ContainsFunc(out, func(m Set) bool { return m&s == m }) {
			out = append(out, s)
		}
	}
	return out
}

// HittingSets returns the minimal sets of at most most members that share a
// member with every set of the family. They are what Reiter's tree finds,
// computed set by set (Berge's multiplication: what hits the first k sets is
// extended by each member of the next). An empty set in the family cannot be
// hit.
func HittingSets(family []Set, most int) []Set {
	hit := []Set{0}
	for _, f := range Minimal(family) {
		var next []Set
		for _, h := range hit {
			if h&f != 0 {
				next = append(next, h)
				continue
			}
			for _, m := range f.Members() {
				if g := h | SetOf(m); g.size() <= most {
					next = append(next, g)
				}
			}
		}
		hit = Minimal(next)
	}
	return hit
}
