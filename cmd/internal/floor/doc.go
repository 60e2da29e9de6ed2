// Package floor holds the shape of the house still: its tests read `go list`
// and say who imports what they should not, which package has no comment, and
// which folder the map names but the tree has not. It has no code of its own.
package floor
