package sim

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"net"
	"strconv"
	"sync"
	"time"
)

// vxi11Socket is an instrument that speaks VXI-11 to one client at a time. Its
// port mapper is on the same port. It is written from the tables of the
// standards, without a look at drivers/wire.
type vxi11Socket struct {
	lanSocket
	links uint32
}

const (
	vxi11Room    = 1024 // bytes it takes in one write
	longestCall  = vxi11Room + 512
	longestIOSec = 10
)

var errNotRPC = errors.New("no call of a procedure, or one that is too long")

// rpcCallHead is the head of a call up to its credentials, big endian.
type rpcCallHead struct {
	XID, Direction, RPCVersion, Program, Version, Procedure uint32
}

// readCall reads one record, of as many fragments as it takes.
func readCall(r io.Reader) (h rpcCallHead, args *bytes.Reader, err error) {
	var record []byte
	for last := false; !last; {
		var mark uint32
		if err = binary.Read(r, binary.BigEndian, &mark); err != nil {
			return h, nil, err
		}
		last = mark>>31 == 1
		length := int(mark & 0x7FFFFFFF)
		if length > longestCall-len(record) {
			return h, nil, errNotRPC
		}
		from := len(record)
		record = append(record, make([]byte, length)...)
		if _, err = io.ReadFull(r, record[from:]); err != nil {
			return h, nil, err
		}
	}
	args = bytes.NewReader(record)
	if binary.Read(args, binary.BigEndian, &h) != nil || h.Direction != 0 || h.RPCVersion != 2 {
		return h, nil, errNotRPC
	}
	for range 2 { // credentials and verifier
		takeUint(args)
		takeBytes(args)
	}
	return h, args, nil
}

// takeUint reads zero where nothing is left: what that means is refused later.
func takeUint(r *bytes.Reader) (v uint32) {
	binary.Read(r, binary.BigEndian, &v)
	return v
}

func takeBytes(r *bytes.Reader) []byte {
	n := int64(takeUint(r))
	if n > int64(r.Len()) {
		return nil
	}
	b := make([]byte, n)
	io.ReadFull(r, b)
	r.Seek((4-n%4)%4, io.SeekCurrent)
	return b
}

// replyRPC sends the results of a call that was carried out, or why it was not.
func replyRPC(w io.Writer, xid, status uint32, results ...any) error {
	var b bytes.Buffer
	for _, v := range append([]any{xid, uint32(1), uint32(0), uint32(0), uint32(0), status}, results...) {
		if text, ok := v.([]byte); ok {
			binary.Write(&b, binary.BigEndian, uint32(len(text)))
			b.Write(text)
			b.Write(make([]byte, (4-len(text)%4)%4))
			continue
		}
		binary.Write(&b, binary.BigEndian, v)
	}
	out := binary.BigEndian.AppendUint32(nil, 1<<31|uint32(b.Len()))
	_, err := w.Write(append(out, b.Bytes()...))
	return err
}

// accept waits for a client that has opened a link.
func (s *vxi11Socket) accept() (io.ReadWriter, error) {
	for {
		conn, err := s.next()
		if err != nil {
			return nil, err
		}
		conn.SetReadDeadline(time.Now().Add(greetingTime))
		opened := s.greet(conn)
		conn.SetReadDeadline(time.Time{})
		if !opened {
			s.drop(conn)
			continue
		}
		t := &vxi11Talk{home: s, conn: conn, in: make(chan vxi11Request, 16), more: make(chan struct{}, 1),
			clear: make(chan struct{}), gone: make(chan struct{}), served: make(chan struct{})}
		go t.serve()
		return t, nil
	}
}

// greet answers until a link is open. The port mapper's clients never open one.
func (s *vxi11Socket) greet(conn net.Conn) bool {
	for {
		h, args, err := readCall(conn)
		switch {
		case err != nil:
			return false
		case h.Program == 100000 && h.Procedure == 3: // port mapper, GETPORT
			port := uint32(0)
			if takeUint(args) == 0x0607AF {
				_, text, _ := net.SplitHostPort(s.where())
				n, _ := strconv.Atoi(text)
				port = uint32(n)
			}
			err = replyRPC(conn, h.XID, 0, port)
		case h.Program != 0x0607AF:
			err = replyRPC(conn, h.XID, 1)
		case h.Procedure == 10: // create_link
			takeUint(args) // client
			takeUint(args) // lock the device
			takeUint(args) // time for that
			if string(takeBytes(args)) == "inst0" {
				s.links++
				return replyRPC(conn, h.XID, 0, uint32(0), s.links, uint32(0), uint32(vxi11Room)) == nil
			}
			err = replyRPC(conn, h.XID, 0, uint32(3), uint32(0), uint32(0), uint32(0)) // device not accessible
		default:
			err = replyRPC(conn, h.XID, 0, uint32(4), uint32(0), uint32(0)) // invalid link
		}
		if err != nil {
			return false
		}
	}
}

func (s *vxi11Socket) link() string { return "vxi11:" + s.where() + "/inst0" }

type vxi11Request struct {
	text  []byte
	clear <-chan struct{} // closed when a device clear came after it
}

// vxi11Talk is one client. Reads and writes are text, between the goroutine
// that serves calls and the one that runs the instrument.
type vxi11Talk struct {
	home   *vxi11Socket
	conn   net.Conn
	in     chan vxi11Request
	more   chan struct{} // something was written
	gone   chan struct{} // closed when the client is
	served chan struct{} // closed when serve has ended

	rest    []byte          // of a request, for the instrument's goroutine
	current <-chan struct{} // that request's clear

	mu    sync.Mutex
	part  []byte // of a request
	out   []byte // answers that were not fetched
	clear chan struct{}
}

func (t *vxi11Talk) Close() error {
	t.home.drop(t.conn)
	<-t.served
	return nil
}

// cleared is closed by a device clear, and when the client is gone.
func (t *vxi11Talk) cleared() <-chan struct{} { return t.current }

// Read returns the text of requests.
func (t *vxi11Talk) Read(p []byte) (int, error) {
	if len(t.rest) == 0 {
		select {
		case r := <-t.in:
			t.rest, t.current = r.text, r.clear
		case <-t.gone:
			return 0, io.EOF
		}
	}
	n := copy(p, t.rest)
	t.rest = t.rest[n:]
	return n, nil
}

// Write keeps text of an answer until it is fetched.
func (t *vxi11Talk) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	select {
	case <-t.current:
		return len(p), nil // the request was cleared away meanwhile
	default:
	}
	t.out = append(t.out, p...)
	select {
	case t.more <- struct{}{}:
	default:
	}
	return len(p), nil
}

func (t *vxi11Talk) serve() {
	defer close(t.served)
	done := make(chan struct{})
	calls := make(chan func() error)
	go func() { // so that a read that waits hears that the client is gone
		defer close(done)
		for {
			h, args, err := readCall(t.conn)
			if err != nil {
				return
			}
			select {
			case calls <- func() error { return t.call(h, args, done) }:
			case <-t.gone:
				return
			}
		}
	}()
	for serving := true; serving; {
		select {
		case call := <-calls:
			serving = call() == nil
		case <-done:
			serving = false
		}
	}
	close(t.gone)
	t.home.drop(t.conn)
	t.forget()
	<-done
}

// call carries one call out.
func (t *vxi11Talk) call(h rpcCallHead, args *bytes.Reader, done <-chan struct{}) error {
	if h.Program != 0x0607AF {
		return replyRPC(t.conn, h.XID, 1)
	}
	if h.Procedure != 10 {
		takeUint(args) // the link: there is but one
	}
	switch h.Procedure {
	case 10: // create_link: one client, one link
		return replyRPC(t.conn, h.XID, 0, uint32(9), uint32(0), uint32(0), uint32(0))
	case 11: // device_write
		takeUint(args)
		takeUint(args)
		flags, text := takeUint(args), takeBytes(args)
		return replyRPC(t.conn, h.XID, 0, t.write(text, flags&8 != 0), uint32(len(text)))
	case 12: // device_read
		size, wait := takeUint(args), takeUint(args)
		text, reason, code := t.fetch(int(min(size, 1<<16)), min(time.Duration(wait)*time.Millisecond, longestIOSec*time.Second), done)
		return replyRPC(t.conn, h.XID, 0, code, reason, text)
	case 13: // device_readstb
		return replyRPC(t.conn, h.XID, 0, uint32(0), uint32(0))
	case 15: // device_clear
		t.forget()
		return replyRPC(t.conn, h.XID, 0, uint32(0))
	case 14, 16, 17, 18, 19, 20: // trigger, remote, local, lock, unlock, enable_srq
		return replyRPC(t.conn, h.XID, 0, uint32(0))
	case 23: // destroy_link
		replyRPC(t.conn, h.XID, 0, uint32(0))
		return errUnplugged
	}
	return replyRPC(t.conn, h.XID, 3)
}

// write takes a piece of a request and returns an error code. An answer that
// was not fetched is void then.
func (t *vxi11Talk) write(text []byte, end bool) uint32 {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.part)+len(text) > longestRequest {
		t.part = nil
		return 9 // out of resources
	}
	if t.part = append(t.part, text...); !end {
		return 0
	}
	r := vxi11Request{append(bytes.TrimRight(t.part, "\n"), '\n'), t.clear}
	t.part, t.out = nil, nil
	select {
	case t.in <- r:
		return 0
	default:
		return 15 // busy for too long
	}
}

// fetch waits for the end of an answer, or as much of it as is asked for.
func (t *vxi11Talk) fetch(size int, wait time.Duration, done <-chan struct{}) (text []byte, reason, code uint32) {
	limit := time.NewTimer(wait)
	defer limit.Stop()
	for {
		t.mu.Lock()
		n := min(size, len(t.out))
		if end := bytes.IndexByte(t.out[:n], '\n'); end >= 0 {
			n, reason = end+1, 4
		} else if n == size {
			reason = 1
		}
		if reason != 0 {
			text, t.out = bytes.Clone(t.out[:n]), t.out[n:]
		}
		t.mu.Unlock()
		if reason != 0 {
			return text, reason, 0
		}
		select {
		case <-t.more:
		case <-limit.C:
			return []byte{}, 0, 15
		case <-done:
			return []byte{}, 0, 17
		}
	}
}

// forget drops requests and answers that are on their way.
func (t *vxi11Talk) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	close(t.clear)
	t.clear = make(chan struct{})
	t.part, t.out = nil, nil
	for len(t.in) > 0 {
		<-t.in
	}
}
