// Package diagnose ranks what may be wrong with a board and says what to
// measure next. A board is its sheet: sources, converters, loads behind
// connectors, capacitors, and the rails between them. An explanation is no
// fault, one fault, two faults, or something that is not on the sheet. Each
// predicts every measurement as a distribution over a finite set of outcomes,
// and an entry of the log weighs the explanations by
//
//	P(h|e) ∝ π(h) · Π_j Σ_c P_j(c|h) · w_j(c)
//
// with w_j the probability that the true value lies in outcome c, given the
// reading and its standard uncertainty (Bayes' rule; discrete outcomes make the
// expected drop of entropy exact). The next measurement is the one with the
// largest expected drop of entropy per minute of work (de Kleer and Williams,
// Artificial Intelligence 32 (1987) 97-130, with a cost). Contradictions among
// entries are minimal hitting sets (Reiter, Artificial Intelligence 32 (1987)
// 57-95) of what each explanation leaves unexplained.
//
// What the figures rest on is the project's choice where no source is named:
// see the constants. The package computes and reads no clock; an [Engine]
// remembers predictions and belongs to one goroutine.
package diagnose

// Prior probabilities of the groups of explanations (the project's choice: a
// set that comes in has a fault, seldom two at once).
const (
	priorNone   = 0.05
	priorSingle = 0.86
	priorPair   = 0.04
	priorOther  = 0.05
)

// Bounds on what may be said.
const (
	LeastOther = 0.05 // something not on the sheet is never less probable
	MostSure   = 0.99 // nothing is ever more probable
)

// surprise is the part of each prediction that is spread evenly over all
// outcomes: slips of the probe, wrong notes, parts that fail in odd ways (the
// project's choice).
const surprise = 0.02

// Minutes of work (common practice for probe, unplug and lift; the project's
// choice for the others).
const (
	minutesProbe  = 0.3
	minutesUnplug = 0.5
	minutesLift   = 5.0
	minutesHookUp = 2.0  // a dummy load or the bench supply
	minutesWarm   = 10.0 // until a board is hot
)
