package wire

import (
	"errors"
	"time"
)

// hislipPort is the TCP port of HiSLIP (IVI-6.1).
const hislipPort = "4880"

// hislipFirst is the number of the first message after opening or a clear;
// the next ones count on by two.
const hislipFirst uint32 = 0xFFFFFF00

// hislipUnnumbered stands in pieces of an answer that carry no number; the
// last piece has one.
const hislipUnnumbered uint32 = 0xFFFFFFFF

// hislipNothing is no message's number: nothing was asked yet.
const hislipNothing uint32 = 1

// hislipLink is a client of a HiSLIP instrument in synchronized mode: every
// answer names the message that it answers, and one that does not name ours is
// dropped. So no late answer gets through.
type hislipLink struct {
	sync, async *hislipChannel
	line        Line
	most        int    // payload that the far end takes in one message
	number      uint32 // of the next message
	asked       uint32 // number of the last message sent
	delivered   bool   // the end of an answer was handed on since then
	answer      []byte // arriving, or being handed on
	whole       bool   // its end has arrived
	end         bool   // the last read handed the end on
	complaint   []byte // text of an error message, arriving
	out         []byte
}

// hislipChannel is one of the two connections. What came of a message stays
// here between calls.
type hislipChannel struct {
	*tcpPort
	hislipDecoder
	buf  [4096]byte
	rest []byte // of buf, not yet decoded
}

// piece decodes what comes next, which get reads if nothing is left over. ok is
// false when there was nothing.
func (c *hislipChannel) piece(get func([]byte) (int, error)) (payload []byte, done, ok bool, err error) {
	if len(c.rest) == 0 {
		n, err := get(c.buf[:])
		if err != nil || n == 0 {
			return nil, false, false, err
		}
		c.rest = c.buf[:n]
	}
	used, payload, done, err := c.next(c.rest)
	c.rest = c.rest[used:]
	return payload, done, err == nil, err
}

// within reads until a deadline.
func (c *hislipChannel) within(deadline time.Time) func([]byte) (int, error) {
	return func(b []byte) (int, error) {
		d := time.Until(deadline)
		if d <= 0 {
			return 0, nil
		}
		return c.read(b, d)
	}
}

func (p *hislipLink) read(b []byte, d time.Duration) (int, error) {
	return p.receive(b, p.sync.within(time.Now().Add(d)))
}

// glance looks at no more than a few buffers, so that a far end that talks
// without end cannot hold it up.
func (p *hislipLink) glance(b []byte) (int, error) {
	looks := 8
	return p.receive(b, func(b []byte) (int, error) {
		if looks--; looks < 0 {
			return 0, nil
		}
		return p.sync.glance(b)
	})
}

// receive takes messages in until there is something to hand on. An answer is
// handed on when it is whole, or longer than any line.
func (p *hislipLink) receive(b []byte, get func([]byte) (int, error)) (int, error) {
	p.end = false
	for !p.whole && len(p.answer) <= p.line.Limit {
		payload, done, ok, err := p.sync.piece(get)
		if ok {
			err = p.take(payload, done)
		}
		if err != nil {
			return 0, err
		}
		if !ok {
			return 0, nil
		}
	}
	n := copy(b, p.answer)
	p.answer = append(p.answer[:0], p.answer[n:]...)
	if p.whole && len(p.answer) == 0 {
		p.whole, p.end, p.delivered = false, true, true
	}
	return n, nil
}

// take looks at a piece of a message of the synchronous channel. What is not
// known is skipped, as the standard asks for.
func (p *hislipLink) take(payload []byte, done bool) error {
	h := p.sync.head
	switch h.kind {
	case hislipData, hislipDataEnd:
		if h.parameter != p.asked && (h.kind == hislipDataEnd || h.parameter != hislipUnnumbered) {
			p.answer = p.answer[:0] // what began it belonged to an earlier question, too
			return nil
		}
		p.answer = append(p.answer, payload...)
		if done && h.kind == hislipDataEnd {
			p.whole = true
			if len(p.answer) == 0 {
				p.answer = append(p.answer, p.line.ending()...) // an empty message is an empty line
			}
		}
	case hislipInterrupted:
		p.answer = p.answer[:0]
	case hislipFatalError, hislipError:
		p.complaint = appendCut(p.complaint, payload)
		if done {
			return h.complaint(p.complaint)
		}
	}
	return nil
}

// ended reports whether the last read handed on the end of a message.
func (p *hislipLink) ended() bool { return p.end }

// write sends one message, in pieces that the far end takes. An answer that is
// under way is void then, and its number tells so.
func (p *hislipLink) write(b []byte) error {
	p.answer, p.whole = p.answer[:0], false
	for {
		n, kind, control := min(len(b), p.most), byte(hislipDataEnd), byte(0)
		if n < len(b) {
			kind = hislipData
		}
		if p.delivered {
			control = 1
		}
		p.out = appendHiSLIP(p.out[:0], kind, control, p.number, b[:n])
		if err := p.sync.write(p.out); err != nil {
			return err
		}
		p.asked, p.delivered = p.number, false
		p.number += 2
		if b = b[n:]; len(b) == 0 {
			return nil
		}
	}
}

func (p *hislipLink) close() error {
	var err error
	if p.async != nil {
		err = p.async.close()
	}
	return errors.Join(p.sync.close(), err)
}
