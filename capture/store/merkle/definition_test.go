package merkle

import (
	"crypto/sha256"
	"encoding/binary"
	"iter"
	"slices"
)

// The definitions of RFC 6962, section 2.1, written down as they stand there,
// with slices and recursion: an independent computation of what the package
// does in one pass. Nothing here calls the package.

func concat(parts ...[]byte) []byte { return slices.Concat(parts...) }

// largestPowerBelow is k of the RFC: the largest power of two smaller than n.
func largestPowerBelow(n int) int {
	k := 1
	for k*2 < n {
		k *= 2
	}
	return k
}

// definedMTH is MTH(D[n]).
func definedMTH(d [][]byte) []byte {
	var sum [32]byte
	switch n := len(d); n {
	case 0:
		sum = sha256.Sum256([]byte{})
	case 1:
		sum = sha256.Sum256(concat([]byte{0x00}, d[0]))
	default:
		k := largestPowerBelow(n)
		sum = sha256.Sum256(concat([]byte{0x01}, definedMTH(d[:k]), definedMTH(d[k:])))
	}
	return sum[:]
}

// definedPath is PATH(m, D[n]).
func definedPath(m int, d [][]byte) [][]byte {
	n := len(d)
	if n == 1 {
		return nil
	}
	k := largestPowerBelow(n)
	if m < k {
		return append(definedPath(m, d[:k]), definedMTH(d[k:]))
	}
	return append(definedPath(m-k, d[k:]), definedMTH(d[:k]))
}

// definedProof is PROOF(m, D[n]) for 0 < m < n.
func definedProof(m int, d [][]byte) [][]byte { return definedSubproof(m, d, true) }

// definedSubproof is SUBPROOF(m, D[n], b).
func definedSubproof(m int, d [][]byte, b bool) [][]byte {
	n := len(d)
	if m == n {
		if b {
			return nil
		}
		return [][]byte{definedMTH(d)}
	}
	k := largestPowerBelow(n)
	if m <= k {
		return append(definedSubproof(m, d[:k], b), definedMTH(d[k:]))
	}
	return append(definedSubproof(m-k, d[k:], false), definedMTH(d[:k]))
}

// some returns n records that differ, of different lengths.
func some(n int) [][]byte {
	d := make([][]byte, n)
	for i := range d {
		d[i] = binary.BigEndian.AppendUint32(make([]byte, i%7), uint32(i))
	}
	return d
}

// leavesOf gives the leaf hashes of records.
func leavesOf(d [][]byte) iter.Seq[Hash] {
	return func(yield func(Hash) bool) {
		for _, record := range d {
			if !yield(Leaf(record)) {
				return
			}
		}
	}
}

// treeOf builds the tree of records.
func treeOf(d [][]byte) Tree {
	var t Tree
	for leaf := range leavesOf(d) {
		t.Add(leaf)
	}
	return t
}

func sameHashes(got []Hash, want [][]byte) bool {
	return slices.EqualFunc(got, want, func(g Hash, w []byte) bool { return slices.Equal(g[:], w) })
}
