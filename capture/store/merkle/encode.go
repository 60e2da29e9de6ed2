package merkle

import (
	"crypto/sha256"
	"encoding"
	"encoding/binary"
	"errors"
	"fmt"
	"math/bits"
)

// ErrMalformed says that bytes are not a stored tree.
var ErrMalformed = errors.New("not a stored Merkle tree")

// maxSize is the largest size that is read back. No list of records comes near;
// it keeps [Tree.Add] from running out of roots after a forged size.
const maxSize = 1<<63 - 1

var (
	_ encoding.BinaryAppender    = (*Tree)(nil)
	_ encoding.BinaryMarshaler   = (*Tree)(nil)
	_ encoding.BinaryUnmarshaler = (*Tree)(nil)
)

// AppendBinary appends the size, 8 bytes little-endian, and the roots of the
// complete subtrees from left (largest) to right: one for each bit that is set
// in the size. The error is always nil.
func (t *Tree) AppendBinary(b []byte) ([]byte, error) {
	b = binary.LittleEndian.AppendUint64(b, t.size)
	for k := bits.Len64(t.size) - 1; k >= 0; k-- {
		if t.size>>k&1 == 1 {
			b = append(b, t.roots[k][:]...)
		}
	}
	return b, nil
}

// MarshalBinary returns what [Tree.AppendBinary] appends.
func (t *Tree) MarshalBinary() ([]byte, error) { return t.AppendBinary(nil) }

// UnmarshalBinary replaces the tree by a stored one. Bytes that
// [Tree.AppendBinary] cannot have written give [ErrMalformed] and leave the tree
// as it was. Whether the hashes are the right ones cannot be seen here: compare
// the root with one that is known.
func (t *Tree) UnmarshalBinary(b []byte) error {
	if len(b) < 8 {
		return fmt.Errorf("%w: %d bytes, at least 8 expected; build the tree anew from the records", ErrMalformed, len(b))
	}
	size := binary.LittleEndian.Uint64(b)
	if size > maxSize {
		return fmt.Errorf("%w: a size of %d leaves is impossible; build the tree anew from the records", ErrMalformed, size)
	}
	if want := 8 + sha256.Size*bits.OnesCount64(size); len(b) != want {
		return fmt.Errorf("%w: %d bytes, %d expected for %d leaves; build the tree anew from the records", ErrMalformed, len(b), want, size)
	}
	read := Tree{size: size}
	b = b[8:]
	for k := bits.Len64(size) - 1; k >= 0; k-- {
		if size>>k&1 == 1 {
			read.roots[k], b = Hash(b[:sha256.Size]), b[sha256.Size:]
		}
	}
	*t = read
	return nil
}
