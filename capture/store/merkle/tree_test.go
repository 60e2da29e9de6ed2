package merkle

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"testing"
)

// published are the roots over the first 0..8 of the eight inputs that the
// reference implementation of certificate transparency tests itself with. From
// memory; that they come out here is also a check of the memory.
var (
	publishedInputs = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	publishedRoots  = []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
)

func publishedRecords(t *testing.T) [][]byte {
	t.Helper()
	records := make([][]byte, len(publishedInputs))
	for i, in := range publishedInputs {
		var err error
		if records[i], err = hex.DecodeString(in); err != nil {
			t.Fatal(err)
		}
	}
	return records
}

func TestPublishedRoots(t *testing.T) {
	var tree Tree
	for i, record := range append([][]byte{nil}, publishedRecords(t)...) {
		if i > 0 {
			tree.Add(Leaf(record))
		}
		if root := tree.Root(); hex.EncodeToString(root[:]) != publishedRoots[i] {
			t.Errorf("root of %d leaves is %x, published is %s", i, root, publishedRoots[i])
		}
	}
}

func TestRootsByDefinition(t *testing.T) {
	d := some(200)
	var tree Tree
	for n := 0; ; n++ {
		if root := tree.Root(); !bytes.Equal(root[:], definedMTH(d[:n])) || tree.Size() != uint64(n) {
			t.Errorf("%d leaves: size %d, root %x, by definition %x", n, tree.Size(), root, definedMTH(d[:n]))
		}
		if n == len(d) {
			return
		}
		tree.Add(Leaf(d[n]))
	}
}

// TestLeafOfAnyLength covers both ways of hashing a record.
func TestLeafOfAnyLength(t *testing.T) {
	for n := range 600 {
		record := bytes.Repeat([]byte{byte(n)}, n)
		if got, want := Leaf(record), sha256.Sum256(append([]byte{0}, record...)); got != want {
			t.Errorf("record of %d bytes: %x, want %x", n, got, want)
		}
	}
}

func TestCopyAndCompare(t *testing.T) {
	a := treeOf(some(7))
	b := a
	if a.Add(Leaf([]byte("x"))); a == b || b != treeOf(some(7)) {
		t.Error("adding to a tree changed its copy")
	}
	if b.Add(Leaf([]byte("x"))); a != b {
		t.Error("two trees of the same leaves differ")
	}
}

func TestAddDoesNotAllocate(t *testing.T) {
	var tree Tree
	record := make([]byte, 119)
	if n := testing.AllocsPerRun(1000, func() { tree.Add(Leaf(record)) }); n != 0 {
		t.Errorf("%v allocations a record", n)
	}
}

// BenchmarkRecord compares a leaf put into a tree with the plain hash of the
// same record: two nodes are hashed for a record, and each has a prefix. "run" is
// what a record costs when a leaf has sixteen.
func BenchmarkRecord(b *testing.B) {
	const run = 16
	record := make([]byte, 119)
	b.Run("run", func(b *testing.B) {
		var tree Tree
		records := make([]byte, run*len(record))
		for b.Loop() {
			tree.Add(Leaf(records))
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(run*b.N), "ns/record")
	})
	b.Run("tree", func(b *testing.B) {
		b.ReportAllocs()
		var tree Tree
		for b.Loop() {
			tree.Add(Leaf(record))
		}
	})
	b.Run("plain", func(b *testing.B) {
		b.ReportAllocs()
		var sum Hash
		for b.Loop() {
			sum = sha256.Sum256(record)
		}
		_ = sum
	})
}
