package store

import (
	"crypto/sha256"
	"encoding/binary"

	"steadyrail/capture"
	"steadyrail/capture/store/merkle"
)

type hash = [sha256.Size]byte

// seal is one commit: which records it holds, and up to when the log is
// complete with it.
type seal struct {
	n           int64
	first, last int64
	upto        capture.Instant
	ties        uint32 // records at the instant upto, in this commit and before
	mark        mark
}

// mark is the beginning of a commit's hash, which a file keeps of every commit: it
// says where a record was changed, the whole hash further on proves it.
type mark = [4]byte

func markOf(h hash) mark { return mark(h[:]) }

// border divides what was in the log when a commit was sealed from what came
// later: later readings have an instant, or at the same instant a tie, that is
// not less.
type border struct {
	at  capture.Instant
	tie uint32
}

func (s seal) border() border { return border{s.upto, s.ties} }

// next returns the seal of the following commit, of n records.
func (s seal) next(n int64) seal { return seal{n: s.n + 1, first: s.last + 1, last: s.last + n} }

// The rules by which a commit's hash is computed. spec.txt defines them.
const (
	ruleRecords = 1 // format 1: over the bytes of the records
	ruleTree    = 2 // over the root of the tree of all records
)

// chain computes the hashes of commits, from the canonical bytes of their
// records. The zero value stands before the first record. It can be copied.
type chain struct {
	head hash
	tree merkle.Tree
}

// record takes the canonical bytes of the next record.
func (c *chain) record(bytes []byte) { c.tree.Add(merkle.Leaf(bytes)) }

// seal ends a commit by [ruleTree].
func (c *chain) seal(s seal) { c.head = s.over(c.head, c.tree.Root()) }

// sealRecords ends a commit by [ruleRecords]; records are the canonical bytes of
// all its records.
func (c *chain) sealRecords(s seal, records []byte) {
	h := sha256.New()
	var b [1 + sha256.Size + 5*8]byte
	copy(b[1:], c.head[:])
	at := 1 + sha256.Size
	for _, v := range [...]int64{int64(len(records)) + 4*8, s.n, s.first, s.last, int64(s.upto)} {
		binary.LittleEndian.PutUint64(b[at:], uint64(v))
		at += 8
	}
	h.Write(b[:])
	h.Write(records)
	c.head = hash(h.Sum(nil))
}
