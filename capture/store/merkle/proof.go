package merkle

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"math/bits"
	"slices"
)

var (
	// ErrRange says that a proof was asked for a place outside the tree.
	ErrRange = errors.New("outside the Merkle tree")
	// ErrShort says that there were fewer leaves than the tree has.
	ErrShort = errors.New("too few leaves for the Merkle tree")
)

// span is the leaves [from, to) of a subtree.
type span struct{ from, to uint64 }

// split returns the two subtrees of a span of at least two leaves: the left one
// has the largest power of two that is smaller than the whole (RFC 6962, 2.1).
func (s span) split() (left, right span) {
	middle := s.from + 1<<(bits.Len64(s.to-s.from-1)-1)
	return span{s.from, middle}, span{middle, s.to}
}

// Path returns the audit path (RFC 6962, section 2.1.1) of the leaf at index,
// counted from 0, in the tree of the first size leaves: the sibling hashes from
// the leaf upwards, for [Verify]. It reads leaves once, holds one [Tree] and the
// path, and asks for no leaf after the first size. Errors are [ErrRange] and
// [ErrShort].
func Path(leaves iter.Seq[Hash], index, size uint64) ([]Hash, error) {
	if index >= size {
		return nil, fmt.Errorf("path of leaf %d of %d: %w; leaves are counted from 0", index, size, ErrRange)
	}
	var siblings []span
	for at := (span{0, size}); at.to-at.from > 1; {
		left, right := at.split()
		if index < right.from {
			at, siblings = left, append(siblings, right)
		} else {
			at, siblings = right, append(siblings, left)
		}
	}
	slices.Reverse(siblings)
	path, err := roots(leaves, siblings, size)
	if err != nil {
		return nil, fmt.Errorf("path of leaf %d of %d: %w", index, size, err)
	}
	return path, nil
}

// Consistency returns the proof (RFC 6962, section 2.1.2) that the tree of the
// first old leaves is the beginning of the tree of the first size leaves, for
// [VerifyConsistency]. It is empty if old is 0 or equal to size. Reading and
// errors are those of [Path].
func Consistency(leaves iter.Seq[Hash], old, size uint64) ([]Hash, error) {
	if old > size {
		return nil, fmt.Errorf("consistency of %d with %d leaves: %w; the older tree cannot be larger", old, size, ErrRange)
	}
	path, err := roots(leaves, consistencySpans(old, size), size)
	if err != nil {
		return nil, fmt.Errorf("consistency of %d with %d leaves: %w", old, size, err)
	}
	return path, nil
}

// consistencySpans returns the subtrees of SUBPROOF (RFC 6962, section 2.1.2)
// in the order of the proof.
func consistencySpans(old, size uint64) []span {
	if old == 0 {
		return nil
	}
	var spans []span
	at := span{0, size}
	for at.to != old {
		left, right := at.split()
		if old <= left.to {
			at, spans = left, append(spans, right)
		} else {
			at, spans = right, append(spans, left)
		}
	}
	if at.from > 0 { // else it is the old tree itself, whose root the checker has
		spans = append(spans, at)
	}
	slices.Reverse(spans)
	return spans
}

// roots returns the root of each of some disjoint spans, in their order, in one
// pass over the first size leaves.
func roots(leaves iter.Seq[Hash], spans []span, size uint64) ([]Hash, error) {
	order := make([]int, len(spans)) // by place
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(spans[a].from, spans[b].from) })
	out := make([]Hash, len(spans))
	var n uint64
	var t Tree
	for leaf := range first(leaves, size) {
		if len(order) > 0 && n >= spans[order[0]].from {
			t.Add(leaf)
			if n+1 == spans[order[0]].to {
				out[order[0]], order, t = t.Root(), order[1:], Tree{}
			}
		}
		n++
	}
	if n < size {
		return nil, fmt.Errorf("%w: only %d came; give all leaves from the first", ErrShort, n)
	}
	return out, nil
}

// first returns the first n of leaves, or as many as there are.
func first(leaves iter.Seq[Hash], n uint64) iter.Seq[Hash] {
	return func(yield func(Hash) bool) {
		if n == 0 {
			return
		}
		var i uint64
		for leaf := range leaves {
			i++
			if !yield(leaf) || i == n {
				return
			}
		}
	}
}
