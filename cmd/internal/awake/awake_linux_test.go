package awake

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/godbus/dbus/v5"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// manager is a bus with a login manager on it, as far as its clients need them: it
// greets, names its client, and answers one call with a descriptor or an error.
type manager struct {
	asked  chan []any // what Inhibit was called with
	gone   chan struct{}
	refuse bool
	silent bool
	pipe   *os.File // its other end went to the client
}

func serve(t *testing.T, m *manager) (address string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bus")
	ln, err := net.ListenUnix("unix", &net.UnixAddr{Name: path, Net: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	m.asked, m.gone = make(chan []any, 1), make(chan struct{})
	go func() {
		defer close(m.gone)
		conn, err := ln.AcceptUnix()
		if err != nil {
			return
		}
		defer conn.Close()
		m.talk(conn)
	}()
	t.Cleanup(func() { _ = ln.Close(); <-m.gone })
	return "unix:path=" + path
}

func (m *manager) talk(conn *net.UnixConn) {
	r := bufio.NewReader(conn)
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return
		}
		switch line = strings.TrimLeft(line, "\x00"); {
		case strings.HasPrefix(line, "AUTH EXTERNAL"):
			_, _ = conn.Write([]byte("OK 0123456789abcdef0123456789abcdef\r\n"))
		case strings.HasPrefix(line, "AUTH"):
			_, _ = conn.Write([]byte("REJECTED EXTERNAL\r\n"))
		case strings.HasPrefix(line, "NEGOTIATE_UNIX_FD"):
			_, _ = conn.Write([]byte("AGREE_UNIX_FD\r\n"))
		case strings.HasPrefix(line, "BEGIN"):
			m.calls(conn, r)
			return
		}
	}
}

func (m *manager) calls(conn *net.UnixConn, r *bufio.Reader) {
	for {
		msg, err := dbus.DecodeMessage(r)
		if err != nil {
			return
		}
		reply := &dbus.Message{Type: dbus.TypeMethodReply, Headers: map[dbus.HeaderField]dbus.Variant{dbus.FieldReplySerial: dbus.MakeVariant(msg.Serial())}}
		var rights []byte
		switch member, _ := msg.Headers[dbus.FieldMember].Value().(string); {
		case member == "Hello":
			reply.Body = []any{":1.1"}
		case m.silent:
			continue
		case member == "Inhibit" && m.refuse:
			reply.Type, reply.Body = dbus.TypeError, []any{"not for you"}
			reply.Headers[dbus.FieldErrorName] = dbus.MakeVariant("org.freedesktop.DBus.Error.AccessDenied")
		case member == "Inhibit":
			m.asked <- msg.Body
			ours, theirs, err := os.Pipe()
			if err != nil {
				return
			}
			m.pipe = ours
			defer theirs.Close()
			rights = syscall.UnixRights(int(theirs.Fd()))
			reply.Body = []any{dbus.UnixFDIndex(0)}
			reply.Headers[dbus.FieldUnixFDs] = dbus.MakeVariant(uint32(1))
		}
		reply.Headers[dbus.FieldSignature] = dbus.MakeVariant(dbus.SignatureOf(reply.Body...))
		var b bytes.Buffer
		if err := encode(reply, &b); err != nil {
			return
		}
		if _, _, err := conn.WriteMsgUnix(b.Bytes(), rights, nil); err != nil {
			return
		}
		if m.pipe != nil { // only the client holds the lock now
			return
		}
	}
}

// encode gives a message the serial that it needs, which the library keeps to
// itself: bytes 8 to 11 of the header (D-Bus specification, message format).
func encode(m *dbus.Message, b *bytes.Buffer) error {
	if err := m.EncodeTo(b, binary.LittleEndian); err != nil {
		return err
	}
	binary.LittleEndian.PutUint32(b.Bytes()[8:], 1)
	return nil
}

// TestInhibit: the login manager is asked for sleep and idle by name and reason,
// to be kept away altogether, and the lock is let go with release.
func TestInhibit(t *testing.T) {
	m := &manager{}
	release, err := inhibitAt(serve(t, m), "a soak runs", time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	asked := <-m.asked
	for i, want := range []string{"sleep:idle", "steadyrail", "a soak runs", "block"} {
		if asked[i] != want {
			t.Errorf("asked %v", asked)
		}
	}
	<-m.gone
	held := make(chan error, 1)
	go func() { _, err := m.pipe.Read(make([]byte, 1)); held <- err }()
	select {
	case <-held:
		t.Fatal("the lock was let go before its release")
	default:
	}
	release()
	if err := <-held; err == nil {
		t.Error("the lock is still held")
	}
	_ = m.pipe.Close()
}

// TestNobodyKeepsAwake: no bus, a manager that refuses, and one that never
// answers are an error that says so, in time.
func TestNobodyKeepsAwake(t *testing.T) {
	for name, address := range map[string]string{
		"no bus":  "unix:path=" + filepath.Join(t.TempDir(), "none"),
		"refused": serve(t, &manager{refuse: true}),
		"silent":  serve(t, &manager{silent: true}),
	} {
		if release, err := inhibitAt(address, "a soak runs", 200*time.Millisecond); !errors.Is(err, ErrCannot) || release != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
