package modbus

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"time"

	"steadyrail/drivers/wire"
)

// mostRTU is the longest frame on a serial line, with unit and check sum.
const mostRTU = 256

// crcTable is the CRC-16 of Serial Line V1.02, appendix B: polynomial 0xA001
// (reflected), bits low first.
var crcTable = func() (t [256]uint16) {
	for i := range t {
		c := uint16(i)
		for range 8 {
			if c&1 != 0 {
				c = c>>1 ^ 0xA001
			} else {
				c >>= 1
			}
		}
		t[i] = c
	}
	return t
}()

func crc16(b []byte) uint16 {
	c := uint16(0xFFFF)
	for _, x := range b {
		c = c>>8 ^ crcTable[byte(c)^x]
	}
	return c
}

// sound reports whether a frame ends with its check sum, low byte first.
func sound(frame []byte) bool {
	n := len(frame) - 2
	return n >= 2 && binary.LittleEndian.Uint16(frame[n:]) == crc16(frame[:n])
}

func wrapRTU(unit byte, pdu []byte) []byte {
	b := append([]byte{unit}, pdu...)
	return binary.LittleEndian.AppendUint16(b, crc16(b))
}

func (e envelope) unwrapRTU(frame []byte) ([]byte, error) {
	switch {
	case len(frame) < 4 || len(frame) > mostRTU:
		return nil, e.request.malformed(frame, "4 to 256 bytes")
	case !sound(frame):
		return nil, fmt.Errorf("%w: % x: the check sum is wrong: look at baud rate, parity, cable and termination", wire.ErrGarbled, frame)
	case frame[0] != e.unit:
		return nil, e.request.malformed(frame, fmt.Sprintf("an answer of unit %d", e.unit))
	}
	return frame[1 : len(frame)-2], nil
}

// answerLength is how long an answer is that begins so, by what the protocol
// says of its function; 0 when it cannot be told, or not yet.
func answerLength(b []byte) int {
	switch {
	case len(b) < 3:
		return 0
	case b[1] >= failed:
		return 5
	case b[1] >= readCoils && b[1] <= readInput:
		return 5 + int(b[2])
	case b[1] == writeCoil, b[1] == writeRegister, b[1] == 0x0F, b[1] == writeMultiple:
		return 8
	}
	return 0
}

// splitRTU looks for a sound frame of the unit, at any place: silence between
// characters, by which the standard tells frames apart, does not survive an
// adapter's buffer. Without one it takes a damaged frame where one was due, so
// that nobody waits for the time-out to hear of it.
func (e envelope) splitRTU(received []byte) (skip, length int) {
	damagedAt, damaged := 0, 0
	for i := 0; i+5 <= len(received); i++ {
		b := received[i:]
		n := answerLength(b)
		if n == 0 || n > len(b) {
			continue
		}
		switch {
		case sound(b[:n]):
			if e.request.reads() && bytes.HasPrefix(b, e.frame()) {
				continue // an echo whose address looks like a byte count
			}
			if b[0] == e.unit {
				return i, n
			}
			e.passed("unit %d answered", b[0])
			i += n - 1
		case damaged == 0 && b[0] == e.unit && e.due(b[1:n-2]):
			damagedAt, damaged = i, n
		}
	}
	return damagedAt, damaged
}

// due reports whether a protocol data unit looks like the answer.
func (e envelope) due(pdu []byte) bool {
	return len(pdu) == e.request.length && bytes.HasPrefix(pdu, e.request.start)
}

// Silence returns the silence of 3.5 characters that the standard wants before
// a request (Serial Line V1.02, 2.5.1.1): a character is eleven bits, and above
// 19200 bit/s it is 1.75 ms whatever the rate.
func Silence(baud int) time.Duration {
	if baud <= 0 || baud > 19200 {
		return 1750 * time.Microsecond
	}
	return 35 * 11 * time.Second / 10 / time.Duration(baud)
}
