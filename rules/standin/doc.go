// Package standin decides whether another converter may take a dead one's
// place: a [Need], which is what the board asks for as its sheet says and as was
// measured, is held against a [Candidate], which is what a data sheet states.
//
// Every question gets an answer with its number, its limit and a sentence, and
// what nobody stated is "not stated": it is never taken for good. What no meter
// on a bench can see (loop stability, the shape of the start, transients,
// radiated noise) is "not checked". Separation between mains and secondary comes
// first, for there a wrong part can kill; local codes and licensed practice
// govern that work whatever is printed here.
//
// A data sheet's figure is taken at its guaranteed end and has no doubt of its
// own; a measured one carries its expanded uncertainty, and a margin inside it
// is "cannot tell".
//
// The package computes, keeps nothing and is safe for concurrent use.
package standin
