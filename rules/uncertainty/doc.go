// Package uncertainty says how far a reading may be off, and decides with that
// whether it lies inside declared bounds.
//
// The standard uncertainty of a reading, or of a mean of readings, is
//
//	u² = a²/3 + q²/12 + t²/3 + l² + s²/n
//
// with a the maker's limit of error for the range (part of the reading, part of
// the range, counts), taken as rectangular (GUM 4.3.7), q one count of the last
// digit, t the temperature coefficient outside 23 ± 5 °C, l what the leads add,
// and s²/n the scatter over the effective number of readings. The expanded
// uncertainty is U = k u with k = 2, more where the scatter of few readings
// dominates (Student's t for 95.45 %, effective degrees of freedom after
// Welch-Satterthwaite; GUM G.4). Where a dominates, which is rectangular, that
// covers at least 95 %. Averaging shrinks s²/n and nothing else.
//
// [Budget] combines any components, correlated ones too; [Linear], [Difference]
// and [Quotient] state results of readings of one instrument, whose gain they
// have in common. The probability of conformance takes the convolved shape
// ([Spread]), not a normal one.
//
// Decisions follow the non-binary statement with guard band of ILAC-G8:09/2019,
// 4.2.3, with w = U. Pure functions, safe for concurrent use. The package knows
// only capture; rules call it.
//
// A figure that a formula computed has no maker: what its inputs come to is
// given with it ([Given]), different meters taken as independent, and that is said.
package uncertainty
