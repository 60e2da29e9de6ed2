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
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store/merkle"
)

// ErrProof is wrapped when a proof proves nothing.
var ErrProof = errors.New("the proof does not hold")

// proofForm is what a proof says of its own form.
const proofForm = "steadyrail proof 1"

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
//	form      "steadyrail proof 1"
//	record    the record's canonical bytes (spec.txt, "THE CHAIN")
//	index     its place among all records, from 0: its seq less 1
//	path      its audit path, from the leaf upwards (RFC 6962, section 2.1.1)
//	root      the tree's root over all records up to last
//	previous  the chain's hash before the commit
//	commit, first, last, upto: the commit whose hash is the head: n, its first
//	          and last record, the instant (microseconds since 1970, UTC) up to
//	          which the log is complete with it
//
// The head is SHA-256(02 | previous | root | i64 commit | i64 first | i64 last |
// i64 upto), integers little endian. Nothing in a proof can be changed without
// another head coming out, and there is nothing in it that the head does not
// bind: the job's name, for one, is in other records.
type Proof struct {
	Form     string          `json:"form"`
	Record   Hex             `json:"record"`
	Index    uint64          `json:"index"`
	Path     []Hex           `json:"path"`
	Root     Hex             `json:"root"`
	Previous Hex             `json:"previous"`
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
	if p.Form != proofForm {
		return p, fmt.Errorf("%w: its form is %.40q, this program knows %q", ErrProof, p.Form, proofForm)
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
	size, path, root, previous, err := p.parts()
	if err != nil {
		return got, err
	}
	if !merkle.Verify(merkle.Leaf(p.Record), p.Index, size, path, root) {
		return got, fmt.Errorf("%w: the record and the path do not lead to the root", ErrProof)
	}
	sum := seal{n: p.Commit, first: p.First, last: p.Last, upto: p.Upto}.over(previous, root)
	r, err := parseCanonical(p.Record)
	if err != nil {
		return got, fmt.Errorf("%w: %w", ErrProof, err)
	}
	if uint64(r.seq) != p.Index+1 || r.at > p.Upto {
		return got, fmt.Errorf("%w: the record says number %d at %s, and stands at place %d of what ends at %s", ErrProof, r.seq, r.at, p.Index+1, p.Upto)
	}
	got = Proved{Head: hex.EncodeToString(sum[:]), Count: p.Last, Upto: p.Upto, Commit: p.Commit, Seq: r.seq, At: r.at,
		Kind: kindName[r.kind], Reading: r.reading, Name: r.name, Body: r.body}
	if head != "" && got.Head != head {
		return got, fmt.Errorf("%w: it leads to the head %s, not to %s", ErrProof, got.Head, head)
	}
	return got, nil
}

var kindName = map[byte]string{kindReading: "reading", kindItem: "item", kindTransition: "transition"}

// parts returns the numbers and hashes of a proof.
func (p *Proof) parts() (size uint64, path []merkle.Hash, root, previous hash, err error) {
	if p.Commit < 1 || p.First < 1 || p.Last < p.First || p.Index >= uint64(p.Last) {
		return 0, nil, root, previous, fmt.Errorf("%w: there is no place %d in a commit %d with the records %d to %d", ErrProof, p.Index, p.Commit, p.First, p.Last)
	}
	hashes := make([]hash, len(p.Path)+2)
	for i, h := range append([]Hex{p.Root, p.Previous}, p.Path...) {
		if len(h) != len(hash{}) {
			return 0, nil, root, previous, fmt.Errorf("%w: a hash of it has %d bytes, not %d", ErrProof, len(h), len(hash{}))
		}
		hashes[i] = hash(h)
	}
	return uint64(p.Last), hashes[2:], hashes[0], hashes[1], nil
}

// over returns the hash of a commit by [ruleTree].
func (s seal) over(previous, root hash) hash {
	b := append(append([]byte{2}, previous[:]...), root[:]...)
	for _, v := range [...]int64{s.n, s.first, s.last, int64(s.upto)} {
		b = binary.LittleEndian.AppendUint64(b, uint64(v))
	}
	return sha256.Sum256(b)
}

// parseCanonical reads canonical bytes, whole and exactly as they are written.
func parseCanonical(b []byte) (r row, err error) {
	errNot := errors.New("the record's bytes are not a record")
	if len(b) < 5 || uint64(binary.LittleEndian.Uint32(b[1:])) != uint64(len(b)-5) {
		return r, errNot
	}
	c := canonReader{rest: b[5:]}
	r.kind, r.seq, r.at = b[0], c.i64(), capture.Instant(c.i64())
	switch r.kind {
	case kindReading:
		r.reading = c.reading()
	case kindItem:
		r.name, r.body = c.str(), c.str()
	case kindTransition:
		r.body = c.str()
	}
	// What a value does not keep, it cannot write again.
	var again canon
	if !c.short && kindName[r.kind] != "" {
		r.canonical(&again)
	}
	if !bytes.Equal(again.buf, b) {
		return row{}, errNot
	}
	return r, nil
}

// canonReader takes canonical bytes apart. Behind the end it gives zeros.
type canonReader struct {
	rest  []byte
	short bool
}

func (c *canonReader) take(n uint64) []byte {
	if n > uint64(len(c.rest)) {
		c.short = true
		return make([]byte, min(n, 8))
	}
	b := c.rest[:n]
	c.rest = c.rest[n:]
	return b
}

func (c *canonReader) u32() uint32  { return binary.LittleEndian.Uint32(c.take(4)) }
func (c *canonReader) i64() int64   { return int64(binary.LittleEndian.Uint64(c.take(8))) }
func (c *canonReader) f64() float64 { return math.Float64frombits(uint64(c.i64())) }
func (c *canonReader) str() string  { return string(c.take(uint64(c.u32()))) }

func (c *canonReader) reading() (r capture.Reading) {
	r.Channel = capture.ChannelID(c.str())
	if err := r.Quantity.UnmarshalText([]byte(c.str())); err != nil {
		c.short = true
	}
	r.Value, r.Text, r.Resolution, r.Range = c.f64(), c.str(), c.f64(), c.f64()
	r.Flags = capture.Flags(c.u32())
	r.Measured, r.HalfWidth, r.Ordinal = capture.Instant(c.i64()), time.Duration(c.i64()), uint64(c.i64())
	return r
}
