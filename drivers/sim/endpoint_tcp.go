package sim

import (
	"fmt"
	"io"
	"net"
	"sync"
)

// tcpPort is an instrument on 127.0.0.1 that serves one client at a time, as
// most do; the next one waits until the first is gone.
type tcpPort struct {
	mu       sync.Mutex
	addr     string // fixed once known, so that the link string stays
	listener net.Listener
	conn     net.Conn
	down     bool
}

func (p *tcpPort) plug() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	addr := p.addr
	if addr == "" {
		addr = "127.0.0.1:0"
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return fmt.Errorf("serve simulated instrument: %w", err)
	}
	p.listener, p.addr, p.down = l, l.Addr().String(), false
	return nil
}

func (p *tcpPort) accept() (io.ReadWriter, error) {
	p.mu.Lock()
	l := p.listener
	p.mu.Unlock()
	conn, err := l.Accept()
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.down {
		conn.Close()
		return nil, errUnplugged
	}
	p.conn = conn
	return conn, nil
}

func (p *tcpPort) unplug() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.down = true
	if p.listener != nil {
		p.listener.Close()
	}
	if p.conn != nil {
		p.conn.Close()
	}
}

func (p *tcpPort) link() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return "tcp:" + p.addr
}
