package sim

import (
	"fmt"
	"net"
	"slices"
	"sync"
)

// The transports of [Scenario.Transport].
const (
	TransportTCP    = "tcp"    // lines of text on a socket
	TransportHiSLIP = "hislip" // HiSLIP (IVI-6.1), synchronized mode
	TransportVXI11  = "vxi11"  // VXI-11, with its port mapper on the same port
)

// socket makes the socket that the scenario wants for an instrument.
func (s Scenario) socket(dir, name string) (endpoint, error) {
	switch kind := s.Transport[name]; kind {
	case "":
		return newEndpoint(dir, name, s.TCP), nil
	case TransportTCP:
		return &tcpPort{}, nil
	case TransportHiSLIP:
		return &hislipSocket{}, nil
	case TransportVXI11:
		return &vxi11Socket{}, nil
	default:
		return nil, fmt.Errorf("transport %q is not known: use tcp, hislip or vxi11", kind)
	}
}

// lanSocket is what the sockets in the network share: a port that stays the
// same, and the connections on it.
type lanSocket struct {
	mu       sync.Mutex
	addr     string // fixed once known, so that the link string stays
	listener net.Listener
	conns    []net.Conn
	down     bool
}

func (s *lanSocket) plug() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	addr := s.addr
	if addr == "" {
		addr = "127.0.0.1:0"
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return fmt.Errorf("serve simulated instrument: %w", err)
	}
	s.listener, s.addr, s.down = l, l.Addr().String(), false
	return nil
}

// next waits for a connection.
func (s *lanSocket) next() (net.Conn, error) {
	s.mu.Lock()
	l := s.listener
	s.mu.Unlock()
	conn, err := l.Accept()
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.down {
		conn.Close()
		return nil, errUnplugged
	}
	s.conns = append(s.conns, conn)
	return conn, nil
}

// drop closes a connection; nil is none.
func (s *lanSocket) drop(conn net.Conn) {
	if conn == nil {
		return
	}
	conn.Close()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.conns = slices.DeleteFunc(s.conns, func(c net.Conn) bool { return c == conn })
}

func (s *lanSocket) unplug() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.down = true
	if s.listener != nil {
		s.listener.Close()
	}
	for _, c := range s.conns {
		c.Close()
	}
	s.conns = nil
}

func (s *lanSocket) where() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.addr
}
