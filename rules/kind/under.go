package kind

import (
	"math"

	"steadyrail/capture"
	"steadyrail/rules/uncertainty"
)

// under is the judgement of single readings against a limit from above, with
// the expanded uncertainty as guard band: the four outcomes of ILAC-G8:09/2019.
type under struct {
	fits capture.Outcome
	u    uncertainty.Statement
}

// decide judges the newest reading of a judge, by a value that was made of it.
func (u *under) decide(b *base, v, limit float64) {
	b.again(&u.u, &sample{mean: v, n: 1, like: &b.last})
	u.fits, _ = uncertainty.Decide(u.u.Value, u.u.Expanded, atMost(limit))
}

// atMost is a limit from above as bounds.
func atMost(limit float64) capture.Bounds { return capture.Bounds{Low: math.Inf(-1), High: limit} }
