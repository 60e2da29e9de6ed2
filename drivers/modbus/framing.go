package modbus

import (
	"fmt"

	"steadyrail/drivers/wire"
)

// Framing is how a protocol data unit travels.
type Framing int

// The framings. RTU is used on serial lines and through gateways that hand
// bytes on; TCP by everything that has the protocol on a network port.
const (
	RTU Framing = iota
	TCP
)

func (f Framing) String() string {
	if f == TCP {
		return "tcp"
	}
	return "rtu"
}

// envelope is what the answer to one request must carry.
type envelope struct {
	framing     Framing
	unit        byte
	transaction uint16 // TCP only
	request     request
	skipped     *string // what was passed over on the way, for the message of a time-out
}

// frame is what is sent.
func (e envelope) frame() []byte {
	if e.framing == TCP {
		return wrapTCP(e.transaction, e.unit, e.request.pdu)
	}
	return wrapRTU(e.unit, e.request.pdu)
}

// split finds the answer in what was received.
func (e envelope) split() wire.Split {
	if e.framing == TCP {
		return e.splitTCP
	}
	return e.splitRTU
}

// open takes a received frame apart and returns the data in it.
func (e envelope) open(frame []byte) ([]byte, error) {
	unwrap := e.unwrapRTU
	if e.framing == TCP {
		unwrap = e.unwrapTCP
	}
	pdu, err := unwrap(frame)
	if err != nil {
		return nil, err
	}
	return e.request.data(pdu)
}

func (e envelope) passed(format string, args ...any) {
	if e.skipped != nil {
		*e.skipped = fmt.Sprintf(format, args...)
	}
}
