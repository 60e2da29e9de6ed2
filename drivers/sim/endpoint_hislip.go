package sim

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"net"
	"sync"
	"time"
)

// hislipSocket is an instrument that speaks HiSLIP (IVI-6.1) to one client at
// a time: the next one is accepted by the system and waits. It is written from
// the tables of the standard, without a look at drivers/wire.
type hislipSocket struct {
	lanSocket
	sessions uint16
}

// hislipRoom is the longest payload it takes, which is little, so that clients
// have to split.
const hislipRoom = 256

// hislipHeader is the header as it lies on the wire, big endian.
type hislipHeader struct {
	Prologue  [2]byte
	Type      uint8
	Control   uint8
	Parameter uint32
	Length    uint64
}

func sendHiSLIP(w io.Writer, kind, control uint8, parameter uint32, payload []byte) error {
	var b bytes.Buffer
	h := hislipHeader{[2]byte{'H', 'S'}, kind, control, parameter, uint64(len(payload))}
	if err := binary.Write(&b, binary.BigEndian, h); err != nil {
		return err
	}
	b.Write(payload)
	_, err := w.Write(b.Bytes())
	return err
}

var errNotHiSLIP = errors.New("no HiSLIP message, or one that is too long")

func readHiSLIP(r io.Reader) (h hislipHeader, payload []byte, err error) {
	if err = binary.Read(r, binary.BigEndian, &h); err != nil {
		return h, nil, err
	}
	if h.Prologue != [2]byte{'H', 'S'} || h.Length > hislipRoom+16 {
		return h, nil, errNotHiSLIP
	}
	payload = make([]byte, h.Length)
	_, err = io.ReadFull(r, payload)
	return h, payload, err
}

// greetingTime is how long a new connection has to say what it wants.
const greetingTime = 2 * time.Second

// accept waits for a client that has opened both channels.
func (s *hislipSocket) accept() (io.ReadWriter, error) {
	var first net.Conn
	for {
		conn, err := s.next()
		if err != nil {
			s.drop(first)
			return nil, err
		}
		conn.SetReadDeadline(time.Now().Add(greetingTime))
		h, name, err := readHiSLIP(conn)
		conn.SetReadDeadline(time.Time{})
		switch {
		case err == nil && h.Type == 0 && (len(name) == 0 || string(name) == "hislip0"): // Initialize
			s.drop(first)
			first = conn
			s.sessions++
			err = sendHiSLIP(conn, 1, 0, 0x0100<<16|uint32(s.sessions), nil)
		case err == nil && h.Type == 17 && first != nil && h.Parameter == uint32(s.sessions): // AsyncInitialize
			if err = sendHiSLIP(conn, 18, 0, 'S'<<8|'R', nil); err == nil {
				return newHiSLIPTalk(s, first, conn), nil
			}
		default:
			sendHiSLIP(conn, 2, 3, 0, []byte("no such instrument, or a channel too early"))
			err = errNotHiSLIP
		}
		if err != nil {
			s.drop(conn)
		}
	}
}

func (s *hislipSocket) link() string { return "hislip:" + s.where() + "/hislip0" }

// hislipTalk is one client with its two channels. Reads and writes are text;
// what is written without a line end is a message that goes on.
type hislipTalk struct {
	home        *hislipSocket
	sync, async net.Conn
	asyncDone   chan struct{}

	in     []byte // a request, not yet read
	part   []byte // of a request
	number uint32 // of the request that is being answered

	mu       sync.Mutex
	most     uint64 // payload that the client takes
	clearing bool   // between the two halves of a device clear
	clear    chan struct{}
}

func newHiSLIPTalk(s *hislipSocket, first, second net.Conn) *hislipTalk {
	t := &hislipTalk{home: s, sync: first, async: second, asyncDone: make(chan struct{}), most: 256, clear: make(chan struct{})}
	go t.serveAsync()
	return t
}

func (t *hislipTalk) Close() error {
	t.home.drop(t.sync)
	t.home.drop(t.async)
	<-t.asyncDone
	return nil
}

// cleared is closed by a device clear, and when the client is gone.
func (t *hislipTalk) cleared() <-chan struct{} {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.clear
}

// Read returns the text of requests.
func (t *hislipTalk) Read(p []byte) (int, error) {
	for len(t.in) == 0 {
		h, payload, err := readHiSLIP(t.sync)
		if err != nil {
			if errors.Is(err, errNotHiSLIP) {
				sendHiSLIP(t.sync, 2, 1, 0, nil) // FatalError, poorly formed header
			}
			return 0, err
		}
		switch h.Type {
		case 6: // Data
			if t.part = append(t.part, payload...); len(t.part) > longestRequest+1 {
				t.part = t.part[:longestRequest+1] // too long all the same
			}
		case 7: // DataEnd
			t.in = append(append(t.part, bytes.TrimRight(payload, "\n")...), '\n')
			t.part, t.number = nil, h.Parameter
		case 8: // DeviceClearComplete
			t.part = nil
			err = t.endClear()
		case 12: // Trigger: nothing here can be triggered
		case 2, 3: // FatalError, Error
			return 0, io.EOF
		default:
			err = sendHiSLIP(t.sync, 3, 1, 0, nil) // Error, unrecognized message type
		}
		if err != nil {
			return 0, err
		}
	}
	n := copy(p, t.in)
	t.in = t.in[n:]
	return n, nil
}

func (t *hislipTalk) endClear() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.clearing {
		t.clearing, t.clear = false, make(chan struct{})
	}
	return sendHiSLIP(t.sync, 9, 0, 0, nil) // DeviceClearAcknowledge, synchronized
}

// Write sends text of an answer, with the number of its request.
func (t *hislipTalk) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.clearing {
		return len(p), nil
	}
	for rest := p; len(rest) > 0; {
		n := int(min(uint64(len(rest)), t.most))
		kind := uint8(6)
		if n == len(rest) && rest[n-1] == '\n' {
			kind = 7
		}
		if err := sendHiSLIP(t.sync, kind, 0, t.number, rest[:n]); err != nil {
			return 0, err
		}
		rest = rest[n:]
	}
	return len(p), nil
}

// serveAsync answers on the asynchronous channel until it breaks.
func (t *hislipTalk) serveAsync() {
	defer close(t.asyncDone)
	for {
		h, payload, err := readHiSLIP(t.async)
		if err == nil {
			err = t.answerAsync(h, payload)
		}
		if err != nil {
			break
		}
	}
	t.home.drop(t.sync)
	t.beginClear()
}

func (t *hislipTalk) answerAsync(h hislipHeader, payload []byte) error {
	switch h.Type {
	case 4: // AsyncLock
		return sendHiSLIP(t.async, 5, 1, 0, nil)
	case 10: // AsyncRemoteLocalControl
		return sendHiSLIP(t.async, 11, 0, 0, nil)
	case 15: // AsyncMaximumMessageSize
		if len(payload) != 8 || binary.BigEndian.Uint64(payload) == 0 {
			return errNotHiSLIP
		}
		t.mu.Lock()
		t.most = binary.BigEndian.Uint64(payload)
		t.mu.Unlock()
		return sendHiSLIP(t.async, 16, 0, 0, binary.BigEndian.AppendUint64(nil, hislipRoom))
	case 19: // AsyncDeviceClear
		t.beginClear()
		return sendHiSLIP(t.async, 23, 0, 0, nil)
	case 21: // AsyncStatusQuery
		return sendHiSLIP(t.async, 22, 0, 0, nil)
	case 24: // AsyncLockInfo
		return sendHiSLIP(t.async, 25, 0, 0, nil)
	}
	return sendHiSLIP(t.async, 3, 1, 0, nil)
}

func (t *hislipTalk) beginClear() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if !t.clearing {
		t.clearing = true
		close(t.clear)
	}
}
