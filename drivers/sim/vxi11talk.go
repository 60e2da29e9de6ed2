package sim

import (
	"bytes"
	"io"
	"net"
	"sync"
	"time"
)

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
