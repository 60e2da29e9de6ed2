package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/store/merkle"
)

// ErrProof is wrapped when a proof proves nothing.
var ErrProof = errors.New("the proof does not hold")

// The forms of proofs: what a proof says of itself. The first had a leaf for each
// record, and none of the keys that came with the second.
const (
	proofForm1 = "steadyrail proof 1"
	proofForm  = "steadyrail proof 2"
)

// Hex is bytes that JSON shows in hexadecimal.
type Hex []byte

// MarshalText writes lower-case hexadecimal. It does not fail.
func (h Hex) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, h), nil }

// UnmarshalText reads hexadecimal.
func (h *Hex) UnmarshalText(text []byte) (err error) {
	*h, err = hex.AppendDecode(nil, text)
	return err
}

// Proof shows that one record belongs to the record with a certain head, to
// somebody who has that head and not the file. As JSON it is one object with the
// keys below; whole numbers are numbers, bytes are hexadecimal:
//
//	form      "steadyrail proof 2"
//	record    the record's canonical bytes (spec.txt, "THE CHAIN")
//	before, after: those of the other records of its run, at most 15 together;
//	          left out when there are none
//	index     the place of the run's leaf in the tree, from 0
//	leaves    how many leaves the tree has
//	path      the leaf's audit path, upwards (RFC 6962, section 2.1.1)
//	root      the tree's root over all records up to last
//	previous  the chain's hash before the commit
//	rule, commit, first, last, upto: the commit whose hash is the head: its rule
//	          (2 or 3) and n, its first and last record, the instant (microseconds
//	          since 1970, UTC) up to which the log is complete with it
//
// The leaf is SHA-256(00 | before | record | after). By rule 3 the head is
// SHA-256(03 | previous | root | i64 leaves | i64 commit | i64 first | i64 last |
// i64 upto), by rule 2 SHA-256(02 | previous | root | i64 commit | i64 first |
// i64 last | i64 upto) with as many leaves as records; integers little endian.
// Nothing in a proof can be changed without another head coming out, but for the
// borders of the run's records, which say which of them is meant; and there is
// nothing in it that the head does not bind: the job's name, for one, is in other
// records.
//
// A proof of the form "steadyrail proof 1" has none of the keys before, after,
// leaves and rule: its rule is 2, and its leaves are as many as last says.
type Proof struct {
	Form     string          `json:"form"`
	Before   Hex             `json:"before,omitempty"`
	Record   Hex             `json:"record"`
	After    Hex             `json:"after,omitempty"`
	Index    uint64          `json:"index"`
	Leaves   uint64          `json:"leaves,omitempty"`
	Path     []Hex           `json:"path"`
	Root     Hex             `json:"root"`
	Previous Hex             `json:"previous"`
	Rule     int             `json:"rule,omitempty"`
	Commit   int64           `json:"commit"`
	First    int64           `json:"first"`
	Last     int64           `json:"last"`
	Upto     capture.Instant `json:"upto"`
}

// ParseProof reads a proof's JSON. What has other keys, or more behind it, is no
// proof: the error wraps [ErrProof].
func ParseProof(text []byte) (p Proof, err error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		return p, fmt.Errorf("%w: not the JSON of a proof: %w", ErrProof, err)
	}
	if _, err := d.Token(); err != io.EOF {
		return p, fmt.Errorf("%w: something follows behind its JSON", ErrProof)
	}
	newer := p.Before != nil || p.After != nil || p.Leaves != 0 || p.Rule != 0
	if p.Form != proofForm && (p.Form != proofForm1 || newer) {
		return p, fmt.Errorf("%w: its form is %.40q, this program knows %q and %q with their keys", ErrProof, p.Form, proofForm1, proofForm)
	}
	return p, nil
}

// Proved is what a proof that holds says.
type Proved struct {
	Head string // of the record it belongs to, lower-case hexadecimal
	// Count is how many records that head covers, Upto until when.
	Count  int64
	Upto   capture.Instant
	Commit int64

	Seq  int64 // the record's number, from 1
	At   capture.Instant
	Kind string // "reading", "item" or "transition"
	// Reading is the record of kind reading. Of the others, Name is the kind of
	// an item, and Body the JSON.
	Reading    capture.Reading
	Name, Body string
}

// CheckProof reports what a proof proves. It needs no file: only the head, in
// hexadecimal, from where its owner could not change it. With head "" it takes
// the head that the proof leads to; then the proof is worth what that head is
// worth, and [Proved.Head] has to be compared. The error wraps [ErrProof].
func CheckProof(p Proof, head string) (Proved, error) {
	var got Proved
	if p.Form == proofForm1 {
		p.Rule, p.Leaves = ruleTree, uint64(max(p.Last, 0))
	}
	path, root, previous, err := p.parts()
	if err != nil {
		return got, err
	}
	if !merkle.Verify(merkle.Leaf(slices.Concat(p.Before, p.Record, p.After)), p.Index, p.Leaves, path, root) {
		return got, fmt.Errorf("%w: the record and the path do not lead to the root", ErrProof)
	}
	sum := seal{n: p.Commit, first: p.First, last: p.Last, upto: p.Upto}.over(p.Rule, previous, root, p.Leaves)
	r, err := p.inRun()
	if err != nil {
		return got, fmt.Errorf("%w: %w", ErrProof, err)
	}
	if place := int64(p.Index) + 1; p.Rule == ruleTree && r.seq != place || r.seq < place || r.seq > p.Last || r.at > p.Upto {
		return got, fmt.Errorf("%w: the record says number %d at %s, and stands at place %d of what ends with number %d at %s", ErrProof, r.seq, r.at, place, p.Last, p.Upto)
	}
	got = Proved{Head: hex.EncodeToString(sum[:]), Count: p.Last, Upto: p.Upto, Commit: p.Commit, Seq: r.seq, At: r.at,
		Kind: kindName[r.kind], Reading: r.reading, Name: r.name, Body: r.body}
	if head != "" && got.Head != head {
		return got, fmt.Errorf("%w: it leads to the head %s, not to %s", ErrProof, got.Head, head)
	}
	return got, nil
}

var kindName = map[byte]string{kindReading: "reading", kindItem: "item", kindTransition: "transition"}

// inRun returns the record that is proved. Its bytes count only as a whole record
// among whole ones: the text of one could hold what looks like another.
func (p *Proof) inRun() (proved row, err error) {
	n, at := 0, 0
	for rest := slices.Concat(p.Before, p.Record, p.After); len(rest) > 0; n++ {
		size := uint64(len(rest))
		if len(rest) >= 5 {
			size = 5 + uint64(binary.LittleEndian.Uint32(rest[1:]))
		}
		if size > uint64(len(rest)) {
			return proved, errNoRecord
		}
		r, err := parseCanonical(rest[:size])
		if err != nil {
			return proved, err
		}
		if at == len(p.Before) && int(size) == len(p.Record) {
			proved = r
		}
		rest, at = rest[size:], at+int(size)
	}
	if proved.kind == 0 || n > runOf(p.Rule) {
		return proved, fmt.Errorf("there are %d records in its run, and it is none of them", n)
	}
	return proved, nil
}

// parts checks the numbers of a proof and returns its hashes.
func (p *Proof) parts() (path []merkle.Hash, root, previous hash, err error) {
	switch {
	case p.Rule != ruleTree && p.Rule != ruleRuns:
		return nil, root, previous, fmt.Errorf("%w: there is no rule %d for the head of a proof", ErrProof, p.Rule)
	case p.Commit < 1 || p.First < 1 || p.Last < p.First || p.Index >= p.Leaves || p.Leaves > uint64(p.Last) || p.Rule == ruleTree && p.Leaves != uint64(p.Last):
		return nil, root, previous, fmt.Errorf("%w: there is no place %d of %d in a commit %d with the records %d to %d", ErrProof, p.Index, p.Leaves, p.Commit, p.First, p.Last)
	}
	hashes := make([]hash, len(p.Path)+2)
	for i, h := range append([]Hex{p.Root, p.Previous}, p.Path...) {
		if len(h) != len(hash{}) {
			return nil, root, previous, fmt.Errorf("%w: a hash of it has %d bytes, not %d", ErrProof, len(h), len(hash{}))
		}
		hashes[i] = hash(h)
	}
	return hashes[2:], hashes[0], hashes[1], nil
}

// over returns the hash of a commit by [ruleTree] or [ruleRuns].
func (s seal) over(rule int, previous, root hash, leaves uint64) hash {
	b := append(append([]byte{byte(rule)}, previous[:]...), root[:]...)
	if rule == ruleRuns {
		b = binary.LittleEndian.AppendUint64(b, leaves)
	}
	for _, v := range [...]int64{s.n, s.first, s.last, int64(s.upto)} {
		b = binary.LittleEndian.AppendUint64(b, uint64(v))
	}
	return sha256.Sum256(b)
}
