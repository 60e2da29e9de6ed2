package modbus

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"steadyrail/drivers/session"
)

// The functions in use, Application Protocol V1.1b3, section 6.
const (
	readCoils     = 0x01
	readHolding   = 0x03
	readInput     = 0x04
	writeCoil     = 0x05
	writeRegister = 0x06
	writeMultiple = 0x10

	failed = 0x80 // added to the function in an exception
)

// MostRead is how many registers one read may ask for.
const MostRead = 125

// request is a protocol data unit and what answers it.
type request struct {
	what   string // for people
	pdu    []byte
	start  []byte // what the answer begins with
	length int    // of the answer
}

func (r request) function() byte { return r.pdu[0] }

// reads reports whether the answer differs from the request in any case.
func (r request) reads() bool { return r.pdu[0] <= readInput }

// read asks for registers, or for coils.
func read(t Table, from, count int) request {
	size := 2 * count
	if t == Coil {
		size = (count + 7) / 8
	}
	pdu := []byte{t.function(), byte(from >> 8), byte(from), byte(count >> 8), byte(count)}
	return request{
		what: fmt.Sprintf("read %d from %s %d", count, t, from),
		pdu:  pdu, start: []byte{pdu[0], byte(size)}, length: 2 + size,
	}
}

// write sets registers, high byte first; one of them by function 6 unless the
// unit only knows function 16.
func write(from int, data []byte, multiple bool) request {
	count := len(data) / 2
	what := fmt.Sprintf("write %d to holding register %d", count, from)
	if count == 1 && !multiple {
		pdu := append([]byte{writeRegister, byte(from >> 8), byte(from)}, data...)
		return request{what: what, pdu: pdu, start: pdu, length: len(pdu)}
	}
	pdu := []byte{writeMultiple, byte(from >> 8), byte(from), byte(count >> 8), byte(count), byte(len(data))}
	return request{what: what, pdu: append(pdu, data...), start: pdu[:5:5], length: 5}
}

// switchCoil sets a coil.
func switchCoil(at int, on bool) request {
	pdu := []byte{writeCoil, byte(at >> 8), byte(at), 0, 0}
	if on {
		pdu[3] = 0xFF
	}
	return request{what: fmt.Sprintf("write coil %d", at), pdu: pdu, start: pdu, length: len(pdu)}
}

// data takes the answer apart and returns what it carries. Errors wrap
// [ErrMalformed], [ErrRefused], or the link's time-out when a gateway reports it.
func (r request) data(pdu []byte) ([]byte, error) {
	switch {
	case len(pdu) == 2 && pdu[0] == r.function()|failed:
		return nil, exception(pdu[1])
	case len(pdu) == 0 || pdu[0] != r.function():
		return nil, r.malformed(pdu, fmt.Sprintf("an answer to function %d", r.function()))
	case len(pdu) != r.length || !bytes.HasPrefix(pdu, r.start):
		return nil, r.malformed(pdu, fmt.Sprintf("%d bytes that begin with % x", r.length, r.start))
	}
	return pdu[len(r.start):], nil
}

func (r request) malformed(got []byte, want string) error {
	return session.Malformed(r.what, fmt.Sprintf("% x", got), want)
}

// registers reads data as registers, high byte first.
func registers(data []byte) []uint16 {
	out := make([]uint16, len(data)/2)
	for i := range out {
		out[i] = binary.BigEndian.Uint16(data[2*i:])
	}
	return out
}
