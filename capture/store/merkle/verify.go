package merkle

import (
	"crypto/sha256"
	"math/bits"
)

// Verify reports whether path proves that leaf stands at index, counted from 0,
// of the tree with that size and root. The leaf hash must be made from the
// record by [Leaf], never taken from whoever brings the path.
// The steps are those of RFC 9162, section 2.1.3.2.
func Verify(leaf Hash, index, size uint64, path []Hash, root Hash) bool {
	if index >= size {
		return false
	}
	w := walk{node: index, last: size - 1}
	for _, sibling := range path {
		if w.last == 0 {
			return false
		}
		if w.left() {
			leaf = node(sibling, leaf)
		} else {
			leaf = node(leaf, sibling)
		}
	}
	return w.last == 0 && leaf == root
}

// VerifyConsistency reports whether path proves that the tree with old leaves
// and oldRoot is the beginning of the tree with size leaves and root. The empty
// tree is the beginning of every tree; its root is the SHA-256 of nothing.
// The steps are those of RFC 9162, section 2.1.4.2.
func VerifyConsistency(old, size uint64, oldRoot, root Hash, path []Hash) bool {
	switch {
	case old > size:
		return false
	case old == size:
		return len(path) == 0 && oldRoot == root && (size > 0 || root == sha256.Sum256(nil))
	case old == 0:
		return len(path) == 0 && oldRoot == sha256.Sum256(nil)
	}
	from, rest := oldRoot, path
	if old&(old-1) != 0 { // else the old tree is a subtree, and its root begins the path
		if len(path) == 0 {
			return false
		}
		from, rest = path[0], path[1:]
	}
	w := walk{node: old - 1, last: size - 1}
	w.up(bits.TrailingZeros64(^w.node))
	wasOld, wasNew := from, from
	for _, sibling := range rest {
		if w.last == 0 {
			return false
		}
		if w.left() {
			wasOld, wasNew = node(sibling, wasOld), node(sibling, wasNew)
		} else {
			wasNew = node(wasNew, sibling)
		}
	}
	return w.last == 0 && wasOld == oldRoot && wasNew == root
}

// walk is a way from a node to the root: fn and sn of RFC 9162, the places on
// one level of the node and of the last node.
type walk struct{ node, last uint64 }

func (w *walk) up(levels int) { w.node, w.last = w.node>>levels, w.last>>levels }

// left goes up past the next sibling and reports whether that one stands left.
// Where the node is the last of its level and has no sibling there, it goes up
// until it has one. There must be a sibling: last is not 0.
func (w *walk) left() bool {
	left := w.node&1 == 1 || w.node == w.last
	if left {
		w.up(bits.TrailingZeros64(w.node))
	}
	w.up(1)
	return left
}
