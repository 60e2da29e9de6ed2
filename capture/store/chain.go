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
	ruleTree    = 2 // formats 2 and 3: over the root of the tree, a leaf for each record
	ruleRuns    = 3 // over the root and the size of the tree, a leaf for each run of records
)

// mostRun is how many records a leaf binds at most by [ruleRuns]. SHA-256 takes
// blocks of 64 bytes: a leaf for each reading costs it five of them, one for each
// 16 readings two a reading.
const mostRun = 16

// runOf is how many records a leaf binds at most by a rule.
func runOf(rule int) int {
	if rule == ruleRuns {
		return mostRun
	}
	return 1
}

// chain computes the hashes of commits, from the canonical bytes of their
// records. The zero value stands before the first record. It can be copied.
type chain struct {
	head hash
	tree merkle.Tree
}

// seal ends a commit by [ruleTree] or [ruleRuns].
func (c *chain) seal(s seal, rule int) { c.head = s.over(rule, c.head, c.tree.Root(), c.tree.Size()) }

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

// binder takes the records of commits into a chain.
type binder struct {
	chain chain
	buf   canon // of the commit's records by [ruleRecords], else of the run's
	from  int   // where the run begins in buf
	n     int   // records in the run
	rule  int
	// leaf, if there is one, is told of each leaf and of what it binds.
	leaf func(run []byte, leaf hash)
}

// begin begins a commit.
func (b *binder) begin(rule int) {
	b.rule, b.from, b.n = rule, 0, 0
	b.buf.reset()
}

// wrote says that the canonical bytes of the next record were put into buf.
func (b *binder) wrote() {
	if b.n++; b.n == runOf(b.rule) {
		b.bind()
	}
}

// bind ends a run.
func (b *binder) bind() {
	if b.n == 0 {
		return
	}
	run := b.buf.buf[b.from:]
	leaf := merkle.Leaf(run)
	b.chain.tree.Add(leaf)
	if b.leaf != nil {
		b.leaf(run, leaf)
	}
	if b.from, b.n = len(b.buf.buf), 0; b.rule != ruleRecords { // which hashes all of the commit at once
		b.from = 0
		b.buf.reset()
	}
}

// seal ends a commit.
func (b *binder) seal(s seal) {
	b.bind()
	if b.rule == ruleRecords {
		b.chain.sealRecords(s, b.buf.buf)
		return
	}
	b.chain.seal(s, b.rule)
}
