package store

import (
	"encoding/binary"
	"math"

	"steadyrail/capture"
)

// The canonical bytes of logical records, as spec.txt defines them. They are
// built from what a record says, never from how a file lays it out: format 1
// kept a row for each reading and had the same.

// canon builds canonical bytes, record behind record. The zero value is empty.
type canon struct{ buf []byte }

func (c *canon) reset() { c.buf = c.buf[:0] }

func (c *canon) i64(v int64)   { c.buf = binary.LittleEndian.AppendUint64(c.buf, uint64(v)) }
func (c *canon) u32(v uint32)  { c.buf = binary.LittleEndian.AppendUint32(c.buf, v) }
func (c *canon) f64(v float64) { c.i64(int64(math.Float64bits(v))) }
func (c *canon) str(s string)  { c.u32(uint32(len(s))); c.buf = append(c.buf, s...) }

// begin begins a record, of the kinds that all have number and instant.
func (c *canon) begin(kind byte, seq int64, at capture.Instant) (head int) {
	head = len(c.buf)
	c.buf = append(c.buf, kind)
	c.u32(0)
	c.i64(seq)
	c.i64(int64(at))
	return head
}

// end fills in the length of the record that begins at head.
func (c *canon) end(head int) {
	binary.LittleEndian.PutUint32(c.buf[head+1:], uint32(len(c.buf)-head-5))
}

func (c *canon) reading(seq int64, at capture.Instant, r *capture.Reading) {
	head := c.begin(kindReading, seq, at)
	c.str(string(r.Channel))
	c.str(r.Quantity.String())
	c.f64(r.Value)
	c.str(r.Text)
	c.f64(r.Resolution)
	c.f64(r.Range)
	c.u32(uint32(r.Flags))
	c.i64(int64(r.Measured))
	c.i64(int64(r.HalfWidth))
	c.i64(int64(r.Ordinal))
	c.end(head)
}

func (c *canon) item(seq int64, at capture.Instant, kind, body string) {
	head := c.begin(kindItem, seq, at)
	c.str(kind)
	c.str(body)
	c.end(head)
}

func (c *canon) transition(seq int64, at capture.Instant, body string) {
	head := c.begin(kindTransition, seq, at)
	c.str(body)
	c.end(head)
}
