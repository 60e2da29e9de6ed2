package merkle

import (
	"crypto/sha256"
	"math/bits"
)

// Hash is the SHA-256 of a leaf or of an inner node.
type Hash = [sha256.Size]byte

// First bytes of what is hashed (RFC 6962, section 2.1).
const (
	leafPrefix = 0x00
	nodePrefix = 0x01
)

// shortRecord is the longest record that [Leaf] hashes on the stack.
const shortRecord = 255

// Leaf returns the leaf hash of one record: SHA-256(0x00 | data). It does not
// allocate for records of up to 255 bytes.
func Leaf(data []byte) Hash {
	if len(data) <= shortRecord {
		var b [1 + shortRecord]byte
		b[0] = leafPrefix
		return sha256.Sum256(b[:1+copy(b[1:], data)])
	}
	h := sha256.New()
	h.Write([]byte{leafPrefix})
	h.Write(data)
	return Hash(h.Sum(nil))
}

// node returns the hash of an inner node: SHA-256(0x01 | left | right).
func node(left, right Hash) Hash {
	var b [1 + 2*sha256.Size]byte
	b[0] = nodePrefix
	copy(b[1:], left[:])
	copy(b[1+sha256.Size:], right[:])
	return sha256.Sum256(b[:])
}

// Tree is a Merkle tree to which leaves are added at the end. The zero value is
// the empty tree. Assignment copies it, and two trees are equal (==) exactly if
// they have the same size and the same roots of complete subtrees.
type Tree struct {
	size uint64
	// roots[k] is the root of the complete subtree of 2^k leaves if bit k of
	// size is set, and zero otherwise. The larger subtree stands further left.
	roots [64]Hash
}

// Size returns the number of leaves.
func (t *Tree) Size() uint64 { return t.size }

// Add puts a leaf hash, made by [Leaf], at the end. It hashes one inner node a
// leaf on average, and does not allocate.
func (t *Tree) Add(leaf Hash) {
	k := 0
	for ; t.size>>k&1 == 1; k++ {
		leaf = node(t.roots[k], leaf)
		t.roots[k] = Hash{} // so that == compares what counts
	}
	t.roots[k] = leaf
	t.size++
}

// Root returns the hash of the whole tree; of the empty tree, the SHA-256 of
// nothing.
func (t *Tree) Root() Hash {
	if t.size == 0 {
		return sha256.Sum256(nil)
	}
	k := bits.TrailingZeros64(t.size)
	root := t.roots[k]
	for k++; k < bits.Len64(t.size); k++ {
		if t.size>>k&1 == 1 {
			root = node(t.roots[k], root)
		}
	}
	return root
}
