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
// uncertainty is U = 2u. Since a dominates and is rectangular, that covers at
// least 95 %. Averaging shrinks s²/n and nothing else.
//
// Decisions follow the non-binary statement with guard band of ILAC-G8:09/2019,
// 4.2.3, with w = U. Pure functions, safe for concurrent use. The package knows
// only capture; rules call it.
package uncertainty
