package sim

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"net"
	"strconv"
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
