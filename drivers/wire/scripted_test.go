package wire

import (
	"context"
	"io"
	"time"
)

var bg = context.Background()

// quick is a line with little patience, for tests.
func quick() Line {
	return Line{AnswerTimeout: 80 * time.Millisecond, ReadTimeout: 10 * time.Millisecond, Quiet: 20 * time.Millisecond, WriteTimeout: 100 * time.Millisecond}
}

// scriptedPort gives one prepared piece a read, then nothing.
type scriptedPort struct {
	reads  []scripted
	lying  []byte // what glance finds
	sent   []byte
	closed bool

	hangsUp bool // in the end
}

type scripted struct {
	data []byte
	err  error
}

func (p *scriptedPort) read(b []byte, d time.Duration) (int, error) {
	if len(p.reads) == 0 && p.hangsUp {
		return 0, io.EOF
	}
	if len(p.reads) == 0 {
		time.Sleep(min(d, time.Millisecond))
		return 0, nil
	}
	next := &p.reads[0]
	n := copy(b, next.data)
	err := next.err
	if next.data = next.data[n:]; len(next.data) == 0 {
		p.reads = p.reads[1:]
	}
	return n, err
}

func (p *scriptedPort) glance(b []byte) (int, error) {
	n := copy(b, p.lying)
	p.lying = p.lying[n:]
	return n, nil
}

func (p *scriptedPort) write(b []byte) error { p.sent = append(p.sent, b...); return nil }
func (p *scriptedPort) close() error         { p.closed = true; return nil }
