package sim

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"sync"
	"time"
)

// endpoint is a socket in the computer: a pseudo-terminal or a TCP port. It
// can be unplugged and plugged again under the same link.
type endpoint interface {
	plug() error
	// accept waits for somebody to talk to. It fails once unplugged.
	accept() (io.ReadWriter, error)
	unplug()
	// link is the link string of the configuration.
	link() string
}

var errUnplugged = errors.New("unplugged")

// server connects an endpoint with an instrument. It owns one goroutine while
// it is plugged; plug and unplug are called under the bench's life lock.
type server struct {
	dev  *device
	tap  *tap
	end  endpoint
	stop chan struct{} // nil while unplugged
	done chan struct{}
}

func (s *server) plug() error {
	if s.stop != nil {
		return nil
	}
	if err := s.end.plug(); err != nil {
		return err
	}
	s.stop, s.done = make(chan struct{}), make(chan struct{})
	go s.run(s.dev, s.tap, s.stop, s.done)
	return nil
}

func (s *server) unplug() {
	if s.stop == nil {
		return
	}
	close(s.stop)
	s.end.unplug()
	<-s.done
	s.stop, s.done = nil, nil
}

func (s *server) run(dev *device, t *tap, stop <-chan struct{}, done chan<- struct{}) {
	defer close(done)
	for {
		conn, err := s.end.accept()
		if err != nil {
			return
		}
		talk(conn, dev, t, stop)
		if c, ok := conn.(io.Closer); ok {
			c.Close()
		}
	}
}

// longestRequest is the input buffer; more than that without a terminator is
// thrown away with -363.
const longestRequest = 4096

// talk answers until the line breaks.
func talk(conn io.ReadWriter, dev *device, t *tap, stop <-chan struct{}) {
	var line []byte
	overrun := false
	buf := make([]byte, 512)
	for {
		n, err := conn.Read(buf)
		for rest := buf[:n]; len(rest) > 0; {
			part, after, ended := bytes.Cut(rest, []byte{'\n'})
			rest = after
			if line = append(line, part...); len(line) > longestRequest {
				line, overrun = line[:0], true
			}
			if !ended {
				break
			}
			if overrun {
				dev.complain(errInputOverrun)
			} else if !answer(conn, dev, t, string(bytes.TrimRight(line, "\r")), stop) {
				return
			}
			line, overrun = line[:0], false
		}
		if err != nil {
			return
		}
	}
}

func (d *device) complain(e *scpiError) {
	d.bench.mu.Lock()
	defer d.bench.mu.Unlock()
	d.status.push(e)
}

// clearable is a connection that knows a device clear: the channel is closed
// by one, and when the connection breaks. It belongs to the newest request.
type clearable interface{ cleared() <-chan struct{} }

func answer(conn io.Writer, dev *device, t *tap, request string, stop <-chan struct{}) bool {
	c, canClear := conn.(clearable)
	if canClear {
		stop = c.cleared()
	}
	text, ok := dev.exec(request, stop)
	if !ok {
		return true
	}
	if d := dev.bench.lineTime(len(text) + 1); d > 0 && !sleep(dev.bench.clock, d, stop) {
		return canClear
	}
	err := t.send(conn, request, text, stop)
	return err == nil || canClear && errors.Is(err, errUnplugged)
}

// tap is where answers go wrong on their way out. Every mischief is done to so
// many answers and then is over. Safe for concurrent use.
type tap struct {
	mu   sync.Mutex
	r    *rand.Rand
	left map[string]int
	wait time.Duration // wall time, for late: link time-outs are wall time
	last string
}

func newTap(r *rand.Rand) *tap { return &tap{r: r, left: map[string]int{}} }

func (t *tap) ask(kind string, n int, wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.left[kind] = n
	if wait > 0 {
		t.wait = wait
	}
}

func (t *tap) take(kind string) bool {
	if t.left[kind] == 0 {
		return false
	}
	t.left[kind]--
	return true
}

// splitPause is the wall time between the halves of a split answer.
const splitPause = 40 * time.Millisecond

// plan turns an answer into the pieces that are written, with a wall-time
// pause before each.
func (t *tap) plan(request, text string) (pieces []string, pauses []time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.left) == 0 {
		t.last = text
		return []string{text + "\n"}, []time.Duration{0}
	}
	// What follows at once goes out in one piece, as from a wire: between two
	// writes a busy computer may let whole exchanges pass.
	add := func(piece string, pause time.Duration) {
		if n := len(pieces); n > 0 && pause == 0 {
			pieces[n-1] += piece
			return
		}
		pieces, pauses = append(pieces, piece), append(pauses, pause)
	}
	if t.take("mute") {
		return nil, nil
	}
	if t.take("echo") {
		add(request+"\n", 0)
	}
	if t.take("stale") && t.last != "" {
		add(t.last+"\n", 0)
	}
	t.last = text
	if t.take("nan") {
		text = "+9.91000000E+37"
	}
	if t.take("garble") {
		text = t.garble(text)
	}
	if t.take("flood") {
		text = string(bytes.Repeat([]byte("0123456789"), 1000))
	}
	text += "\n"
	if t.take("cut") {
		text = text[:len(text)/2]
	}
	pause := time.Duration(0)
	if t.take("late") {
		pause = t.wait
	}
	if t.take("split") && len(text) > 1 {
		add(text[:len(text)/2], pause)
		text, pause = text[len(text)/2:], splitPause
	}
	add(text, pause)
	return pieces, pauses
}

// garble flips bits as a wrong baud rate or a bad cable does.
func (t *tap) garble(text string) string {
	b := []byte(text)
	for range 1 + len(b)/4 {
		b[t.r.IntN(len(b))] |= 0x80
	}
	return string(b)
}

func (t *tap) send(conn io.Writer, request, text string, stop <-chan struct{}) error {
	pieces, pauses := t.plan(request, text)
	for i, piece := range pieces {
		if pauses[i] > 0 {
			timer := time.NewTimer(pauses[i])
			select {
			case <-timer.C:
			case <-stop:
				timer.Stop()
				return errUnplugged
			}
		}
		if _, err := io.WriteString(conn, piece); err != nil {
			return err
		}
	}
	return nil
}
