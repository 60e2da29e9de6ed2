package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"time"

	"steadyrail/capture"
)

var errNoRecord = errors.New("the record's bytes are not a record")

// parseCanonical reads canonical bytes, whole and exactly as they are written.
func parseCanonical(b []byte) (r row, err error) {
	if len(b) < 5 || uint64(binary.LittleEndian.Uint32(b[1:])) != uint64(len(b)-5) {
		return r, errNoRecord
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
		return row{}, errNoRecord
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

func (c *canonReader) u32() uint32 { return binary.LittleEndian.Uint32(c.take(4)) }

func (c *canonReader) i64() int64 { return int64(binary.LittleEndian.Uint64(c.take(8))) }

func (c *canonReader) f64() float64 { return math.Float64frombits(uint64(c.i64())) }

func (c *canonReader) str() string { return string(c.take(uint64(c.u32()))) }

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
