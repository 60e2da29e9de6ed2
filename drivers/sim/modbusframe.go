package sim

// The far end's own reading of Modbus: it shares nothing with drivers/modbus, so
// that a misreading there shows.

// question is one request as it arrived.
type question struct {
	transaction uint16
	unit        byte
	body        []byte // function and what follows
}

// checkSum is CRC-16 bit by bit, as Serial Line V1.02, appendix B draws it.
func checkSum(b []byte) (low, high byte) {
	reg := uint16(0xFFFF)
	for _, c := range b {
		reg ^= uint16(c)
		for bit := 0; bit < 8; bit++ {
			odd := reg%2 == 1
			reg /= 2
			if odd {
				reg ^= 0xA001
			}
		}
	}
	return byte(reg % 256), byte(reg / 256)
}

// requestSize is how long a request of this function is on a serial line, unit
// and check sum included; 0 when more must come first, -1 when it is none.
func requestSize(b []byte) int {
	if len(b) < 2 {
		return 0
	}
	switch b[1] {
	case 1, 2, 3, 4, 5, 6:
		return 8
	case 15, 16:
		if len(b) < 7 {
			return 0
		}
		return 9 + int(b[6])
	}
	return -1
}

// cutRTU takes the first request off the front. What is none is dropped byte by
// byte: a real unit would tell by the silence before it.
func cutRTU(in []byte) (q question, used int, ok bool) {
	for used < len(in) {
		b := in[used:]
		n := requestSize(b)
		if n == 0 || n > len(b) {
			return q, used, false
		}
		if n > 0 {
			if low, high := checkSum(b[:n-2]); b[n-2] == low && b[n-1] == high {
				return question{unit: b[0], body: append([]byte(nil), b[1:n-2]...)}, used + n, true
			}
		}
		used++
	}
	return q, used, false
}

func putRTU(q question, body []byte) []byte {
	out := append([]byte{q.unit}, body...)
	low, high := checkSum(out)
	return append(out, low, high)
}

// cutMBAP takes the first request off a TCP stream.
func cutMBAP(in []byte) (q question, used int, ok bool) {
	if len(in) < 8 {
		return q, 0, false
	}
	rest := int(in[4])*256 + int(in[5])
	if in[2] != 0 || in[3] != 0 || rest < 2 || rest > 254 {
		return q, len(in), false // not this protocol
	}
	if len(in) < 6+rest {
		return q, 0, false
	}
	return question{
		transaction: uint16(in[0])*256 + uint16(in[1]), unit: in[6], body: append([]byte(nil), in[7:6+rest]...),
	}, 6 + rest, true
}

func putMBAP(q question, body []byte) []byte {
	n := len(body) + 1
	return append([]byte{byte(q.transaction >> 8), byte(q.transaction), 0, 0, byte(n >> 8), byte(n), q.unit}, body...)
}

// The exceptions in use.
const (
	noFunction = 1
	noRegister = 2
	noValue    = 3
	unitFails  = 4
)

// replyTo carries out a request. The bench's lock is held.
func replyTo(u registerUnit, body []byte) []byte {
	f := body[0]
	refuse := func(code byte) []byte { return []byte{f | 0x80, code} }
	if len(body) < 5 {
		return refuse(noValue)
	}
	from, second := int(body[1])<<8|int(body[2]), int(body[3])<<8|int(body[4])
	switch f {
	case 1, 3, 4:
		most := map[byte]int{1: 2000, 3: 125, 4: 125}[f]
		if second < 1 || second > most {
			return refuse(noValue)
		}
		values, code := u.read(f, from, second)
		if code != 0 {
			return refuse(code)
		}
		return append([]byte{f}, packed(f, values)...)
	case 5, 6:
		if f == 5 && second != 0 && second != 0xFF00 {
			return refuse(noValue)
		}
		if code := u.write(f, from, []uint16{uint16(second)}); code != 0 {
			return refuse(code)
		}
		return body[:5]
	case 16:
		if len(body) < 6 || int(body[5]) != 2*second || len(body) != 6+2*second || second < 1 || second > 123 {
			return refuse(noValue)
		}
		values := make([]uint16, second)
		for i := range values {
			values[i] = uint16(body[6+2*i])<<8 | uint16(body[7+2*i])
		}
		if code := u.write(f, from, values); code != 0 {
			return refuse(code)
		}
		return body[:5]
	}
	return refuse(noFunction)
}

// packed is the byte count and the data of a reading.
func packed(f byte, values []uint16) []byte {
	if f == 1 {
		out := make([]byte, 1+(len(values)+7)/8)
		out[0] = byte(len(out) - 1)
		for i, v := range values {
			if v != 0 {
				out[1+i/8] |= 1 << (i % 8)
			}
		}
		return out
	}
	out := []byte{byte(2 * len(values))}
	for _, v := range values {
		out = append(out, byte(v>>8), byte(v))
	}
	return out
}
