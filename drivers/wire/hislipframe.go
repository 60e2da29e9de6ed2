package wire

import (
	"encoding/binary"
	"fmt"
)

// The message types of HiSLIP (IVI-6.1) that are used here.
const (
	hislipInitialize                     = 0
	hislipInitializeResponse             = 1
	hislipFatalError                     = 2
	hislipError                          = 3
	hislipData                           = 6
	hislipDataEnd                        = 7
	hislipDeviceClearComplete            = 8
	hislipDeviceClearAcknowledge         = 9
	hislipInterrupted                    = 13
	hislipMaximumMessageSize             = 15
	hislipMaximumMessageSizeReply        = 16
	hislipAsyncInitialize                = 17
	hislipAsyncInitializeResponse        = 18
	hislipAsyncDeviceClear               = 19
	hislipAsyncDeviceClearAck            = 23
	hislipAsyncLockInfo                  = 24
	hislipAsyncLockInfoResponse          = 25
	hislipHeaderSize                     = 16
	hislipLongest                 uint64 = 1 << 20 // longest payload that we let a far end send, and tell it so
)

// hislipHead is the header of a message.
type hislipHead struct {
	kind, control byte
	parameter     uint32
	length        uint64 // of the payload behind it
}

// appendHiSLIP appends a whole message.
func appendHiSLIP(out []byte, kind, control byte, parameter uint32, payload []byte) []byte {
	out = append(out, 'H', 'S', kind, control)
	out = binary.BigEndian.AppendUint32(out, parameter)
	out = binary.BigEndian.AppendUint64(out, uint64(len(payload)))
	return append(out, payload...)
}

// hislipDecoder finds the messages in a stream that comes in any pieces. It
// holds no payload, so a length from outside costs no memory.
type hislipDecoder struct {
	raw  [hislipHeaderSize]byte
	have int        // bytes of raw that are there
	head hislipHead // of the message that the last piece belongs to
	left uint64     // bytes of its payload that are still to come
}

// next takes what belongs to one message from the front of b: it returns how
// much that was, the payload in it, and whether the message ends there. An
// error means that nothing that follows can be understood.
func (d *hislipDecoder) next(b []byte) (used int, payload []byte, done bool, err error) {
	if d.have < len(d.raw) {
		used = copy(d.raw[d.have:], b)
		d.have += used
		if err := d.readHead(); err != nil || d.have < len(d.raw) {
			return used, nil, false, err
		}
	}
	n := int(min(d.left, uint64(len(b)-used)))
	payload = b[used : used+n]
	if d.left -= uint64(n); d.left == 0 {
		d.have, done = 0, true
	}
	return used + n, payload, done, nil
}

// readHead reads as much of the header as is there: a far end that speaks
// something else is known by its first byte.
func (d *hislipDecoder) readHead() error {
	if got := string(d.raw[:min(d.have, 2)]); got != "HS"[:len(got)] {
		return fmt.Errorf("%q begins no HiSLIP message: %w", d.raw[:d.have], errForeign)
	}
	if d.have < len(d.raw) {
		return nil
	}
	d.head = hislipHead{
		kind: d.raw[2], control: d.raw[3],
		parameter: binary.BigEndian.Uint32(d.raw[4:]), length: binary.BigEndian.Uint64(d.raw[8:]),
	}
	if d.left = d.head.length; d.left > hislipLongest {
		return fmt.Errorf("it announces a message of %d bytes; it was told that %d is the most", d.left, hislipLongest)
	}
	return nil
}

// What the codes of FatalError and Error mean.
var (
	hislipFatalErrors = []string{"unidentified", "poorly formed header", "use without both channels", "invalid initialization sequence", "too many clients"}
	hislipErrors      = []string{"unidentified", "unrecognized message type", "unrecognized control code", "unrecognized vendor message", "message too large"}
)

// hislipTooMany is the code of a far end that has its client already.
const hislipTooMany = 4

// complaint turns a FatalError or an Error into words.
func (h hislipHead) complaint(text []byte) error {
	verb, words := "it objects", hislipErrors
	if h.kind == hislipFatalError {
		verb, words = "it ended the connection", hislipFatalErrors
	}
	what := fmt.Sprintf("code %d", h.control)
	if int(h.control) < len(words) {
		what = words[h.control]
	}
	if len(text) > 0 {
		what = fmt.Sprintf("%s, %q", what, cut(text))
	}
	if h.kind == hislipFatalError && h.control == hislipTooMany {
		return fmt.Errorf("%w: %s: %s: someone else is connected to it", ErrBusy, verb, what)
	}
	return fmt.Errorf("%s: %s", verb, what)
}
