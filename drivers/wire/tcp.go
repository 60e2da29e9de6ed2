package wire

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"time"
)

// dialTimeout bounds the opening of a connection when the context does not.
const dialTimeout = 3 * time.Second

type tcpPort struct {
	conn    *net.TCPConn
	timeout time.Duration // of one write
}

func dialTCP(ctx context.Context, a Address, l Line) (port, error) {
	where := a.Path
	d := net.Dialer{Timeout: dialTimeout}
	conn, err := d.DialContext(ctx, "tcp", where)
	if err != nil {
		return nil, explainDial(where, err)
	}
	return &tcpPort{conn: conn.(*net.TCPConn), timeout: l.WriteTimeout}, nil
}

// errNobody is [ErrNoPort] in the words of a network.
var errNobody error = nobody{}

type nobody struct{}

func (nobody) Error() string { return "nothing listens there" }
func (nobody) Unwrap() error { return ErrNoPort }

func explainDial(where string, err error) error {
	var dns *net.DNSError
	switch {
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("connect to %s: %w", where, err)
	case saysRefused(err):
		return fmt.Errorf("connect to %s: %w: switch the instrument's remote control on, or check the port number", where, errNobody)
	case errors.As(err, &dns) && !dns.IsNotFound: // nobody answered who would know
		return fmt.Errorf("connect to %s: %w: the name %s cannot be looked up now: is this computer in a network? Or write the number that the instrument's network menu shows", where, ErrNoPort, dns.Name)
	case dns != nil:
		return fmt.Errorf("connect to %s: %w: nobody knows the name %s in this network: check it, or write the number that the instrument's network menu shows", where, ErrNoPort, dns.Name)
	case saysNoWay(err):
		return fmt.Errorf("connect to %s: %w: this computer knows no way there: are both in the same network, and is it on?", where, ErrNoPort)
	case saysNoAnswer(err), errors.Is(err, os.ErrDeadlineExceeded), errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("connect to %s: %w: no answer: is it on, and in this network?", where, ErrNoPort)
	}
	return fmt.Errorf("connect to %s: %w: %w", where, ErrNoPort, err)
}

func (p *tcpPort) read(b []byte, d time.Duration) (int, error) {
	if err := p.conn.SetReadDeadline(time.Now().Add(d)); err != nil {
		return 0, err
	}
	n, err := p.conn.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return n, err
}

// write gives up after the line's write time-out. What was sent of the line
// then is not known, so the connection is dropped.
func (p *tcpPort) write(b []byte) error {
	if err := p.conn.SetWriteDeadline(time.Now().Add(p.timeout)); err != nil {
		return err
	}
	_, err := p.conn.Write(b)
	return err
}

func (p *tcpPort) close() error { return p.conn.Close() }
