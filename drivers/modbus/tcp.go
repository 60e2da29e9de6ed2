package modbus

import (
	"encoding/binary"
	"fmt"
)

// The header of Application Protocol V1.1b3, 4.1 and the TCP implementation
// guide: transaction 2 bytes, protocol 2 (0), length 2 (unit and data), unit 1.
const (
	headTCP = 7
	mostPDU = 253
)

func wrapTCP(transaction uint16, unit byte, pdu []byte) []byte {
	b := binary.BigEndian.AppendUint16(nil, transaction)
	b = append(b, 0, 0)
	b = binary.BigEndian.AppendUint16(b, uint16(len(pdu)+1))
	return append(append(b, unit), pdu...)
}

// lengthTCP is how long the frame is that begins so: 0 while the header is not
// complete, -1 when it is none.
func lengthTCP(b []byte) int {
	if len(b) < headTCP-1 {
		return 0
	}
	n := int(binary.BigEndian.Uint16(b[4:]))
	if b[2] != 0 || b[3] != 0 || n < 2 || n > mostPDU+1 {
		return -1
	}
	return headTCP - 1 + n
}

// splitTCP passes over the answers to earlier transactions. What begins with no
// header is taken whole: on a stream there is no noise, so the far end does not
// speak this protocol.
func (e envelope) splitTCP(received []byte) (skip, length int) {
	for {
		b := received[skip:]
		n := lengthTCP(b)
		switch {
		case n < 0:
			return skip, len(b)
		case n == 0 || n > len(b):
			return skip, 0
		}
		other := binary.BigEndian.Uint16(b)
		if other == e.transaction {
			return skip, n
		}
		e.passed("an answer to transaction %d came, not to %d", other, e.transaction)
		skip += n
	}
}

func (e envelope) unwrapTCP(frame []byte) ([]byte, error) {
	switch n := lengthTCP(frame); {
	case n <= 0 || n != len(frame):
		return nil, e.request.malformed(frame, "a header of protocol 0 and its length: is it another protocol, or a gateway of raw bytes (option framing=rtu)?")
	case binary.BigEndian.Uint16(frame) != e.transaction:
		return nil, e.request.malformed(frame, fmt.Sprintf("transaction %d", e.transaction))
	case frame[headTCP-1] != e.unit:
		return nil, e.request.malformed(frame, fmt.Sprintf("an answer of unit %d", e.unit))
	}
	return frame[headTCP:], nil
}
