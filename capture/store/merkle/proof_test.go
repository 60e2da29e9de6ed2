package merkle

import (
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestAllPaths proves every leaf of every tree of up to 64 leaves.
func TestAllPaths(t *testing.T) {
	d := some(64)
	for n := 1; n <= len(d); n++ {
		tree := treeOf(d[:n])
		for m := range n {
			path, err := Path(leavesOf(d), uint64(m), uint64(n))
			if err != nil || !sameHashes(path, definedPath(m, d[:n])) {
				t.Fatalf("path of %d of %d: %x, %v", m, n, path, err)
			}
			if !Verify(Leaf(d[m]), uint64(m), uint64(n), path, tree.Root()) {
				t.Fatalf("path of %d of %d is not accepted", m, n)
			}
		}
	}
}

// TestAllConsistencies proves every beginning of every tree of up to 64 leaves.
func TestAllConsistencies(t *testing.T) {
	d := some(64)
	for n := range len(d) + 1 {
		tree := treeOf(d[:n])
		for m := range n + 1 {
			var want [][]byte
			if 0 < m && m < n {
				want = definedProof(m, d[:n])
			}
			path, err := Consistency(leavesOf(d), uint64(m), uint64(n))
			if err != nil || !sameHashes(path, want) {
				t.Fatalf("consistency of %d with %d: %x, %v", m, n, path, err)
			}
			old := treeOf(d[:m])
			if !VerifyConsistency(uint64(m), uint64(n), old.Root(), tree.Root(), path) {
				t.Fatalf("consistency of %d with %d is not accepted", m, n)
			}
		}
	}
}

// forged gives every way of spoiling a path a little.
func forged(path []Hash) [][]Hash {
	out := [][]Hash{append(slices.Clone(path), Hash{}), append([]Hash{{}}, path...)}
	for i := range path {
		bent := slices.Clone(path)
		bent[i][i%32] ^= 1
		out = append(out, bent, slices.Delete(slices.Clone(path), i, i+1))
		if i > 0 {
			bent := slices.Clone(path)
			bent[i-1], bent[i] = bent[i], bent[i-1]
			out = append(out, bent)
		}
	}
	return out
}

func TestForgedPathsAreRefused(t *testing.T) {
	d := some(24)
	for n := uint64(1); n <= 24; n++ {
		tree := treeOf(d[:n])
		root := tree.Root()
		for m := range n {
			path, _ := Path(leavesOf(d), m, n)
			leaf := Leaf(d[m])
			for i, bad := range forged(path) {
				if Verify(leaf, m, n, bad, root) {
					t.Errorf("%d of %d: forgery %d is accepted", m, n, i)
				}
			}
			for other := range n + 2 {
				if other != m && Verify(leaf, other, n, path, root) {
					t.Errorf("%d of %d is accepted at %d", m, n, other)
				}
			}
			if Verify(leaf, m, n, path, Hash{}) || Verify(Hash{}, m, n, path, root) || Verify(leaf, m, 0, path, root) {
				t.Errorf("%d of %d is accepted with a wrong root, leaf or size", m, n)
			}
		}
	}
}

func TestForgedConsistenciesAreRefused(t *testing.T) {
	d := some(24)
	for n := uint64(0); n <= 24; n++ {
		tree := treeOf(d[:n])
		for m := range n + 1 {
			oldTree := treeOf(d[:m])
			old, root := oldTree.Root(), tree.Root()
			path, _ := Consistency(leavesOf(d), m, n)
			for i, bad := range forged(path) {
				if VerifyConsistency(m, n, old, root, bad) {
					t.Errorf("%d with %d: forgery %d is accepted", m, n, i)
				}
			}
			if 0 < m && m < n && VerifyConsistency(m, n, old, root, nil) && len(path) > 0 {
				t.Errorf("%d with %d: no path is accepted", m, n)
			}
			if VerifyConsistency(m, n, Hash{}, root, path) || m > 0 && VerifyConsistency(m, n, old, Hash{}, path) {
				t.Errorf("%d with %d is accepted with a wrong root", m, n)
			}
			if m < n && VerifyConsistency(n, m, root, old, path) {
				t.Errorf("%d with %d is accepted the other way round", m, n)
			}
		}
	}
}

// TestInnerNodeIsNoRecord: the two prefixes keep a path from being cut short.
func TestInnerNodeIsNoRecord(t *testing.T) {
	d := some(4)
	tree := treeOf(d)
	left, right := treeOf(d[:2]), treeOf(d[2:])
	l, r := left.Root(), right.Root()
	if Verify(Leaf(slices.Concat(l[:], r[:])), 0, 1, nil, tree.Root()) {
		t.Error("two inner nodes passed for a record")
	}
}

func TestProofsOutside(t *testing.T) {
	d := some(5)
	_, beyond := Path(leavesOf(d), 5, 5)
	_, shortPath := Path(leavesOf(d), 1, 6)
	_, larger := Consistency(leavesOf(d), 5, 4)
	_, shortList := Consistency(leavesOf(d), 3, 6)
	_, shortEqual := Consistency(leavesOf(d), 6, 6)
	for i, c := range []struct{ got, want error }{
		{beyond, ErrRange}, {shortPath, ErrShort}, {larger, ErrRange}, {shortList, ErrShort}, {shortEqual, ErrShort},
	} {
		if !errors.Is(c.got, c.want) {
			t.Errorf("case %d: %v, want %v", i, c.got, c.want)
		}
	}
}

// TestReadsNoFurther: a proof for an earlier size does not touch later leaves.
func TestReadsNoFurther(t *testing.T) {
	read := 0
	leaves := func(yield func(Hash) bool) {
		for read < 100 {
			read++
			if !yield(Hash{byte(read)}) {
				return
			}
		}
	}
	if _, err := Path(leaves, 3, 10); err != nil || read != 10 {
		t.Errorf("%d leaves read, %v", read, err)
	}
}

func TestLargerTrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Uint64Range(1, 3000).Draw(t, "size")
		index := rapid.Uint64Range(0, size-1).Draw(t, "index")
		old := rapid.Uint64Range(0, size).Draw(t, "old")
		d := some(int(size))
		tree, oldTree := treeOf(d), treeOf(d[:old])
		path, err := Path(leavesOf(d), index, size)
		if err != nil || !Verify(Leaf(d[index]), index, size, path, tree.Root()) {
			t.Fatalf("path: %v", err)
		}
		if Verify(Leaf(d[(index+1)%size]), index, size, path, tree.Root()) && size > 1 {
			t.Fatal("the neighbour is accepted in its place")
		}
		proof, err := Consistency(leavesOf(d), old, size)
		if err != nil || !VerifyConsistency(old, size, oldTree.Root(), tree.Root(), proof) {
			t.Fatalf("consistency: %v", err)
		}
	})
}
