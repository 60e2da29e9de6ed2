package pedal

import (
	"encoding/binary"
	"errors"
	"time"
)

// Of struct input_event in linux/input.h: a time of two longs, then type, code
// and value. A long has 4 or 8 bytes, by the system's word; a 32-bit system with
// 64-bit times (__KERNEL__ with CONFIG y2038) still hands two 32-bit longs out.
const (
	size64 = 24
	size32 = 16
)

// Types, codes and values of linux/input-event-codes.h.
const (
	typeSyn     = 0 // EV_SYN
	typeKey     = 1 // EV_KEY
	synDropped  = 3 // SYN_DROPPED: the kernel's buffer overflowed
	valueUp     = 0
	valueDown   = 1
	valueRepeat = 2
)

// ErrShort is wrapped when a stream of events ends in the middle of one.
var ErrShort = errors.New("the stream ends in the middle of an event")

// Event is one record of an input device.
type Event struct {
	At    time.Duration // of the kernel's clock
	Type  uint16
	Code  uint16
	Value int32
}

// Decoder turns the bytes of an input device into events. Word is 4 or 8, the
// bytes of a long of the system; anything else counts as 8. The bytes may come
// in any pieces.
type Decoder struct {
	Word int
	rest []byte
}

func (d *Decoder) size() int {
	if d.Word == 4 {
		return size32
	}
	return size64
}

// Feed takes more bytes and returns the events that are complete.
func (d *Decoder) Feed(b []byte) []Event {
	d.rest = append(d.rest, b...)
	var out []Event
	n := d.size()
	for len(d.rest) >= n {
		out = append(out, d.event(d.rest[:n]))
		d.rest = d.rest[n:]
	}
	return out
}

// Close reports whether the stream ended between two events.
func (d *Decoder) Close() error {
	if len(d.rest) > 0 {
		return ErrShort
	}
	return nil
}

// event reads one record in the byte order of the machine, which is where the
// kernel writes it.
func (d *Decoder) event(b []byte) Event {
	o := binary.NativeEndian
	var e Event
	if d.Word == 4 {
		e.At = stamp(int64(int32(o.Uint32(b))), int64(int32(o.Uint32(b[4:]))))
		b = b[8:]
	} else {
		e.At = stamp(int64(o.Uint64(b)), int64(o.Uint64(b[8:])))
		b = b[16:]
	}
	e.Type, e.Code, e.Value = o.Uint16(b), o.Uint16(b[2:]), int32(o.Uint32(b[4:]))
	return e
}

// stamp joins seconds and microseconds; what does not fit is no time, and wraps.
func stamp(s, us int64) time.Duration {
	return time.Duration(s)*time.Second + time.Duration(us)*time.Microsecond
}

// Presses tells presses from events. Every key of the device is the pedal.
type Presses struct {
	down map[uint16]time.Duration
}

// Take takes an event and returns the press that ends with it, if one does.
func (p *Presses) Take(e Event) (Press, bool) {
	if e.Type == typeSyn && e.Code == synDropped {
		p.down = nil // what was held, nobody knows
	}
	if e.Type != typeKey {
		return Press{}, false
	}
	since, held := p.down[e.Code]
	switch e.Value {
	case valueDown:
		if p.down == nil {
			p.down = map[uint16]time.Duration{}
		}
		p.down[e.Code] = e.At
	case valueUp:
		delete(p.down, e.Code)
		return Press{Long: e.At-since >= LongFrom}, held
	}
	return Press{}, false
}
