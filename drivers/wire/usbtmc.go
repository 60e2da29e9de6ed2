package wire

import (
	"errors"
	"fmt"
	"sync/atomic"
	"syscall"
	"time"
)

// tmcDevice is a USBTMC instrument as the kernel's driver hands it to a
// program. The driver makes and reads the headers.
type tmcDevice interface {
	// read asks for one transfer and waits for it as long as setTimeout said.
	// More than fits comes with the next. A device whose tag is out of step
	// makes it 0 and no error, until it is cleared.
	read(p []byte) (int, error)
	// write sends one whole message.
	write(p []byte) error
	// setTimeout bounds read and write; the driver takes no less than 100 ms.
	setTimeout(d time.Duration) error
	// endOfMessage tells whether the last transfer ended its message; known is
	// false where the driver is too old to tell.
	endOfMessage() (end, known bool)
	// clear makes both ends forget what is on its way.
	clear() error
	// there asks the driver whether the device is still plugged in.
	there() error
	close() error
}

const (
	// tmcTransfer is how much one transfer asks for.
	tmcTransfer = 1024
	// tmcLeast and tmcUntold are time-outs of the kernel's driver: the shortest
	// it takes, and the one it has when it is told none.
	tmcLeast  = 100 * time.Millisecond
	tmcUntold = 5 * time.Second
)

// tmcPort is a link by USBTMC.
//
// A read that was asked for must be ended by an answer or by a clear: asking
// again after a time-out makes the tags differ. So a read is asked for once, for
// the whole time that an answer may take, by a goroutine; and whoever waits does
// so in steps, like on every other port. The goroutine ends with the kernel's
// time-out at the latest.
type tmcPort struct {
	dev     tmcDevice
	parts   chan tmcPart // of the goroutine that reads, one at most
	state   atomic.Int32 // writing, written or abandoned: as in writeAside, of a read
	reading bool
	asked   bool   // a message was sent, and none has ended since
	left    []byte // received, not yet handed on
	last    bool   // a message ends behind it
	buf     [tmcTransfer]byte
	wait    time.Duration // how long the kernel waits at most
}

type tmcPart struct {
	n   int
	end bool
	err error
}

func newTMC(dev tmcDevice, l Line) *tmcPort {
	p := &tmcPort{dev: dev, parts: make(chan tmcPart, 1), wait: max(l.AnswerTimeout, tmcLeast)}
	if dev.setTimeout(p.wait) != nil {
		p.wait = tmcUntold // an old kernel: slower after a time-out, and right
	}
	return p
}

// read hands on what comes within d. Where nothing was asked nothing is read:
// an instrument that has nothing to say would not answer, and be out of step.
func (p *tmcPort) read(b []byte, d time.Duration) (int, error) {
	if len(p.left) > 0 {
		return p.hand(b), nil
	}
	if !p.asked {
		time.Sleep(d)
		return 0, nil
	}
	if !p.reading {
		p.reading, p.last = true, false
		p.state.Store(writing)
		go p.fetch()
	}
	limit := time.NewTimer(d)
	defer limit.Stop()
	select {
	case part := <-p.parts:
		return p.take(part, b)
	case <-limit.C:
		return 0, nil
	}
}

// fetch reads one transfer. Should the port have been closed meanwhile, it is
// the one who closes the device: the number must not belong to another file
// while somebody still reads from it.
func (p *tmcPort) fetch() {
	var part tmcPart
	part.n, part.err = p.dev.read(p.buf[:])
	if part.err == nil {
		end, known := p.dev.endOfMessage()
		part.end = end || !known && part.n < len(p.buf)
	}
	if p.state.CompareAndSwap(writing, written) {
		p.parts <- part
		return
	}
	_ = p.dev.close() // nobody is left to tell
}

func (p *tmcPort) take(part tmcPart, b []byte) (int, error) {
	p.reading = false
	switch {
	case part.err != nil:
		return 0, tmcFault(part.err)
	case part.n == 0:
		return 0, fmt.Errorf("%w: an empty answer: the instrument is out of step with this computer", ErrGarbled)
	}
	p.left, p.last = p.buf[:part.n], part.end
	return p.hand(b), nil
}

func (p *tmcPort) hand(b []byte) int {
	n := copy(b, p.left)
	p.left = p.left[n:]
	if p.ended() {
		p.asked = false
	}
	return n
}

// ended reports whether what was handed on last ended a message.
func (p *tmcPort) ended() bool { return p.last && len(p.left) == 0 }

// glance finds nothing: a USBTMC instrument says nothing unasked. It only makes
// sure that the instrument is still there.
func (p *tmcPort) glance([]byte) (int, error) {
	if p.reading {
		return 0, nil
	}
	return 0, p.dev.there()
}

func (p *tmcPort) write(b []byte) error {
	p.asked = true
	if err := p.dev.write(b); err != nil {
		return tmcFault(err)
	}
	return nil
}

// clear first waits for a read that was given up; the kernel ends it.
func (p *tmcPort) clear() error {
	if p.reading {
		limit := time.NewTimer(p.wait + grace)
		defer limit.Stop()
		select {
		case <-p.parts:
			p.reading = false
		case <-limit.C:
			return fmt.Errorf("%w: the system does not come back from reading: unplug the instrument, or restart steadyrail", ErrStuck)
		}
	}
	p.left, p.last, p.asked = nil, false, false
	if err := p.dev.clear(); err != nil {
		if gone := tmcFault(err); !errors.Is(gone, ErrTimeout) && !errors.Is(gone, ErrGarbled) {
			return gone
		}
		return fmt.Errorf("%w: it does not take the device clear: switch it off and on: %w", ErrGarbled, err)
	}
	return nil
}

func (p *tmcPort) close() error {
	if p.reading && p.state.CompareAndSwap(writing, abandoned) {
		return nil // fetch closes it
	}
	return p.dev.close()
}

// tmcFault tells a slow and a confused instrument from one that is gone.
func tmcFault(err error) error {
	switch {
	case errors.Is(err, syscall.ETIMEDOUT):
		return fmt.Errorf("%w: %w", ErrTimeout, err)
	case errors.Is(err, syscall.EPIPE), errors.Is(err, syscall.EOVERFLOW):
		return fmt.Errorf("%w: the instrument refuses the transfer: %w", ErrGarbled, err)
	}
	return err
}
