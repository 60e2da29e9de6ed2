package diagnose

import "slices"

// OtherContradicted is the share of what is not on the sheet while the entries
// contradict each other and the best that the sheet has is two faults at once.
// Of the even 500 of a thousand simulated boards 16 ended so, and every one was a
// bridge between two rails, which no sheet has. It stays below what counts as
// decided, so that asking goes on.
const OtherContradicted = 0.85

// temper lowers what the sheet explains when it does not explain it: two faults
// that even together leave an entry over are a guess at something else.
func temper(r []Ranked, contradicted bool) []Ranked {
	other := slices.IndexFunc(r, func(x Ranked) bool { return x.Other })
	if !contradicted || len(r[0].Faults) < 2 || r[other].P >= OtherContradicted {
		return r
	}
	rest := (1 - OtherContradicted) / (1 - r[other].P)
	for i := range r {
		r[i].P = float64(r[i].P * rest)
	}
	it := r[other]
	it.P = OtherContradicted
	return slices.Insert(slices.Delete(r, other, other+1), 0, it)
}
