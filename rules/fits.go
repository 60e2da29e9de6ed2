package rules

import (
	"steadyrail/capture"
	"steadyrail/rules/formula"
	"steadyrail/rules/kind"
)

// Fits reports why a rule would never judge the channel that it names in of, or
// would judge it by the rail's volts.
func Fits(r capture.Rule, ch capture.ChannelInfo) error { return kind.Fits(r, ch) }

// FitsBeside reports why a rule cannot be held against a channel.
func FitsBeside(r capture.Rule, ch capture.ChannelInfo) error { return kind.FitsBeside(r, ch) }

// TakesLimit reports whether a kind has one limit.
func TakesLimit(name string) bool {
	k, _ := kind.Find(name)
	return k.Limited
}

// FormulaQuantity returns what a formula's channel measures.
func FormulaQuantity(f capture.Formula) (capture.Quantity, bool) {
	_, q, known := formula.ParseUnit(f.Unit)
	return q, known
}
