package wire

import (
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"time"
)

// rpcRecords finds the records of an RPC connection (RFC 5531, section 11) in a
// stream that comes in any pieces. Its memory grows with what came, not with
// what is announced, and never beyond the limit.
type rpcRecords struct {
	limit  int
	head   [4]byte
	have   int // bytes of head that are there
	left   int // bytes of this fragment that are still to come
	last   bool
	record []byte
}

// next takes bytes from the front of b. It returns how many, and the record
// once it is whole; the record is valid until the next call.
func (r *rpcRecords) next(b []byte) (used int, record []byte, err error) {
	if r.have == 0 && r.last {
		r.record, r.last = r.record[:0], false
	}
	if r.have < len(r.head) {
		used = copy(r.head[r.have:], b)
		if r.have += used; r.have < len(r.head) {
			return used, nil, nil
		}
		mark := binary.BigEndian.Uint32(r.head[:])
		length := mark &^ (1 << 31)
		if r.last = mark != length; uint64(length)+uint64(len(r.record)) > uint64(r.limit) {
			return used, nil, fmt.Errorf("it announces an answer of %d bytes; %d is the most that was asked for: %w", length, r.limit, errForeign)
		}
		r.left = int(length)
	}
	n := min(r.left, len(b)-used)
	r.record = append(r.record, b[used:used+n]...)
	used += n
	if r.left -= n; r.left > 0 {
		return used, nil, nil
	}
	r.have = 0
	if r.last {
		record = r.record
	}
	return used, record, nil
}

// xdr reads the data of RFC 4506. After the first thing that is not there it
// reads zeros, and short tells so.
type xdr struct {
	rest  []byte
	short bool
}

func (x *xdr) uint() uint32 {
	if len(x.rest) < 4 {
		x.rest, x.short = nil, true
		return 0
	}
	v := binary.BigEndian.Uint32(x.rest)
	x.rest = x.rest[4:]
	return v
}

// opaque reads bytes of variable length, padded to four.
func (x *xdr) opaque() []byte {
	n := uint64(x.uint())
	padded := (n + 3) &^ 3
	if padded > uint64(len(x.rest)) {
		x.rest, x.short = nil, true
		return nil
	}
	v := x.rest[:n]
	x.rest = x.rest[padded:]
	return v
}

func appendUints(out []byte, values ...uint32) []byte {
	for _, v := range values {
		out = binary.BigEndian.AppendUint32(out, v)
	}
	return out
}

func appendOpaque(out, data []byte) []byte {
	out = append(binary.BigEndian.AppendUint32(out, uint32(len(data))), data...)
	for len(out)%4 != 0 { // every item before it is a multiple of four
		out = append(out, 0)
	}
	return out
}

// The numbers of RFC 5531 that are used here.
const (
	rpcCall, rpcReply = 0, 1
	rpcVersion        = 2
	rpcLastFragment   = 1 << 31
)

// appendCall appends a call as one record, without credentials. args are
// already encoded.
func appendCall(out []byte, xid, program, version, procedure uint32, args []byte) []byte {
	const head = 10 * 4
	out = appendUints(out, rpcLastFragment|uint32(head+len(args)), xid, rpcCall, rpcVersion, program, version, procedure, 0, 0, 0, 0)
	return append(out, args...)
}

// parseReply reads the head of a reply. err says that the call was not carried
// out; the number is valid in any case but a foreign one.
func parseReply(record []byte) (xid uint32, results xdr, err error) {
	x := xdr{rest: record}
	xid = x.uint()
	if direction := x.uint(); x.short || direction != rpcReply {
		return 0, x, fmt.Errorf("% x is no reply to a call: %w", cut(record), errForeign)
	}
	if denied := x.uint(); denied != 0 {
		return xid, x, fmt.Errorf("it refuses calls of this kind (%s): %w", refusal(&x), errForeign)
	}
	x.uint() // flavour of its verifier
	x.opaque()
	status := x.uint()
	if x.short {
		return xid, x, fmt.Errorf("% x is no whole reply: %w", cut(record), errForeign)
	}
	if status != 0 {
		return xid, x, fmt.Errorf("it %s: %w", acceptance(status), errForeign)
	}
	return xid, x, nil
}

func refusal(x *xdr) string {
	switch reason := x.uint(); reason {
	case 0:
		return fmt.Sprintf("it speaks RPC version %d to %d, not 2", x.uint(), x.uint())
	case 1:
		return fmt.Sprintf("it wants credentials, code %d", x.uint())
	default:
		return fmt.Sprintf("code %d", reason)
	}
}

func acceptance(status uint32) string {
	words := []string{1: "has no such program", 2: "has another version of the program", 3: "has no such procedure", 4: "could not read the arguments", 5: "failed within"}
	if int64(status) < int64(len(words)) {
		return words[status]
	}
	return fmt.Sprintf("did not carry the call out, code %d", status)
}

// rpcClient makes one call after another. Answers carry the number of their
// call; one to an earlier call is dropped.
type rpcClient struct {
	*tcpPort
	records rpcRecords
	buf     [4096]byte
	rest    []byte // of buf, not yet decoded
	xid     uint32 // of the newest call
	out     []byte
}

// rpcLongest is the longest answer but those to reading.
const rpcLongest = 4096

func dialRPC(ctx context.Context, where string, l Line) (*rpcClient, error) {
	conn, err := dialChannel(ctx, where, l)
	if err != nil {
		return nil, err
	}
	return &rpcClient{tcpPort: conn, records: rpcRecords{limit: rpcLongest}, xid: rand.Uint32()}, nil
}

// send makes a call without waiting.
func (c *rpcClient) send(program, version, procedure uint32, args []byte) error {
	c.xid++
	c.out = appendCall(c.out[:0], c.xid, program, version, procedure, args)
	return c.write(c.out)
}

// reply looks for the answer to the newest call in what get reads. ok is false
// when get had nothing more. The results are valid until the next call.
func (c *rpcClient) reply(get func([]byte) (int, error)) (results xdr, ok bool, err error) {
	for {
		if len(c.rest) == 0 {
			n, err := get(c.buf[:])
			if err != nil || n == 0 {
				return xdr{}, false, err
			}
			c.rest = c.buf[:n]
		}
		used, record, err := c.records.next(c.rest)
		c.rest = c.rest[used:]
		if err != nil {
			return xdr{}, false, err
		}
		if record == nil {
			continue
		}
		xid, results, err := parseReply(record)
		if xid != c.xid && (err == nil || xid != 0) {
			continue
		}
		return results, err == nil, err
	}
}

// within reads until a deadline.
func (c *rpcClient) within(deadline time.Time) func([]byte) (int, error) {
	return func(b []byte) (int, error) {
		d := time.Until(deadline)
		if d <= 0 {
			return 0, nil
		}
		return c.read(b, d)
	}
}

// call makes a call and waits for its answer.
func (c *rpcClient) call(ctx context.Context, deadline time.Time, program, version, procedure uint32, args []byte) (xdr, error) {
	if err := c.send(program, version, procedure, args); err != nil {
		return xdr{}, err
	}
	return c.await(ctx, deadline)
}

// await waits for the answer to the newest call.
func (c *rpcClient) await(ctx context.Context, deadline time.Time) (xdr, error) {
	for {
		next, err := untilStep(ctx, deadline)
		if err != nil {
			return xdr{}, err
		}
		results, ok, err := c.reply(c.within(next))
		if ok || err != nil {
			return results, err
		}
	}
}
