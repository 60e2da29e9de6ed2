package merkle

import (
	"bytes"
	"errors"
	"math/bits"
	"testing"
)

func TestEncoding(t *testing.T) {
	d := some(130)
	for n := range len(d) + 1 {
		tree := treeOf(d[:n])
		stored, err := tree.MarshalBinary()
		if err != nil || len(stored) != 8+32*bits.OnesCount(uint(n)) {
			t.Fatalf("%d leaves: %d bytes, %v", n, len(stored), err)
		}
		read := treeOf(d[:3]) // something to be replaced
		if err := read.UnmarshalBinary(stored); err != nil || read != tree {
			t.Errorf("%d leaves: read back as %d leaves, %v", n, read.Size(), err)
		}
		if after, _ := tree.AppendBinary([]byte("head")); !bytes.Equal(after, append([]byte("head"), stored...)) {
			t.Errorf("%d leaves: appending gives other bytes", n)
		}
	}
}

func TestEncodingRefuses(t *testing.T) {
	three := treeOf(some(3))
	stored, _ := three.MarshalBinary()
	for name, b := range map[string][]byte{
		"nothing":         nil,
		"half a size":     stored[:4],
		"a hash missing":  stored[:8+32],
		"a byte missing":  stored[:len(stored)-1],
		"a byte too many": append(bytes.Clone(stored), 0),
		"a huge size":     append(bytes.Repeat([]byte{0xff}, 8), make([]byte, 64*32)...),
	} {
		tree := three
		if err := tree.UnmarshalBinary(b); !errors.Is(err, ErrMalformed) || tree != three {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzUnmarshal: what is read back is written as it was, and takes more leaves.
func FuzzUnmarshal(f *testing.F) {
	for _, n := range []int{0, 1, 3, 64, 127} {
		tree := treeOf(some(n))
		stored, _ := tree.MarshalBinary()
		f.Add(stored)
	}
	f.Add(append(append(bytes.Repeat([]byte{0xff}, 7), 0x7f), make([]byte, 63*32)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		var tree Tree
		if err := tree.UnmarshalBinary(b); err != nil {
			if !errors.Is(err, ErrMalformed) {
				t.Fatal(err)
			}
			return
		}
		if again, _ := tree.MarshalBinary(); !bytes.Equal(again, b) {
			t.Fatalf("%x was written as %x", b, again)
		}
		size := tree.Size()
		tree.Root()
		if tree.Add(Hash{}); tree.Size() != size+1 {
			t.Fatalf("size %d after one leaf more than %d", tree.Size(), size)
		}
		tree.Root()
	})
}
