package uncertainty

import "math"

// Term is a statement that goes into a result with a sensitivity: +1 and -1 for
// a difference, 1/b and -a/b² for a ratio.
type Term struct {
	Statement
	Sensitivity float64
}

// Linear states a result of several readings: value is theirs, res its
// resolution. With shared, they are of one instrument: those that rest on the
// same range have one error of gain and one of temperature in common (r = 1),
// which cancels in a difference and adds in a sum; what is a part of range and
// counts is each reading's own. Without an accuracy for every term nothing is
// stated.
func Linear(value, resolution float64, shared bool, terms ...Term) Statement {
	out := Statement{Value: value, Resolution: resolution, Stated: len(terms) > 0, Coverage: 2}
	var variance, scatter, spread, lead, count, given float64
	for i, t := range terms {
		out.Stated = out.Stated && t.Stated
		out.Notes = append(out.Notes, fresh(out.Notes, t.Notes)...)
		scatter += square(t.Sensitivity * t.TypeA)
		lead += square(t.Sensitivity * t.Lead)
		count += square(t.Sensitivity * t.Count)
		given += square(t.Sensitivity * t.Given)
		if t.Degrees > 0 {
			spread += square(square(t.Sensitivity*t.TypeA)) / t.Degrees
		}
		if !shared || first(terms, i) {
			limit, drift := together(terms, i, shared)
			variance += square(limit)
			out.Drift = math.Sqrt(square(out.Drift) + square(drift))
		}
	}
	out.Limit, out.Count, out.Lead, out.TypeA = math.Sqrt(variance), math.Sqrt(count), math.Sqrt(lead), math.Sqrt(scatter)
	out.Given = math.Sqrt(given)
	if spread > 0 {
		out.Degrees = square(scatter) / spread
	}
	out.sum()
	return out
}

// Difference states a - b.
func Difference(a, b Statement, shared bool) Statement {
	return Linear(a.Value-b.Value, max(a.Resolution, b.Resolution), shared, Term{a, 1}, Term{b, -1})
}

// first reports whether no earlier term rests on the same range.
func first(terms []Term, i int) bool {
	for _, t := range terms[:i] {
		if t.Accuracy == terms[i].Accuracy {
			return false
		}
	}
	return true
}

// together is the limit of error of the i-th term and, where shared, of all
// that rest on the same range: errors of gain add with sign, the rest by
// squares. As within one reading, both limits then add.
func together(terms []Term, i int, shared bool) (limit, drift float64) {
	var gain, own float64
	for j, t := range terms {
		if j == i || shared && t.Accuracy == terms[i].Accuracy {
			gain += float64(t.Sensitivity * t.Gain)
			own += square(t.Sensitivity * t.Offset)
			drift += float64(t.Sensitivity*t.Drift) * sign(t.Value)
		}
	}
	return math.Abs(gain) + math.Sqrt(own), math.Abs(drift)
}

func square(v float64) float64 { return float64(v * v) }

func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}

// fresh are the notes that were not said yet.
func fresh(said, notes []string) (out []string) {
next:
	for _, n := range notes {
		for _, s := range said {
			if s == n {
				continue next
			}
		}
		out = append(out, n)
	}
	return out
}

// En compares two results that each carry U (ISO 13528, ISO/IEC 17043; from
// memory): |x1 - x2| / √(U1² + U2²), 1 or less when they agree. False without
// a U. Results of one meter are not independent: its gain cancels, and
// [Difference] with shared is what to hold against 0.
func En(x1, u1, x2, u2 float64) (float64, bool) {
	u := math.Sqrt(square(u1) + square(u2))
	if !(u > 0) || math.IsInf(u, 0) {
		return 0, false
	}
	return math.Abs(x1-x2) / u, true
}
