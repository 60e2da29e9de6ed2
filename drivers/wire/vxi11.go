package wire

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// The numbers of VXI-11 revision 1.0 that are used here.
const (
	vxi11Core        = 0x0607AF // program
	vxi11Version     = 1
	vxi11CreateLink  = 10
	vxi11Write       = 11
	vxi11Read        = 12
	vxi11Clear       = 15
	vxi11DestroyLink = 23

	vxi11FlagEnd   = 8 // of a write: the message ends here
	vxi11ReasonEnd = 4 // of a read: the message ended here

	vxi11ErrAccess      = 3
	vxi11ErrUnsupported = 8
	vxi11ErrResources   = 9
	vxi11ErrLocked      = 11
	vxi11ErrTimeout     = 15
)

const (
	// vxi11Step is how long one read may block the far end, and with it a Send
	// that must not wait.
	vxi11Step = 200 * time.Millisecond
	// vxi11Slack is how much later than asked for an answer may come.
	vxi11Slack = time.Second
	// vxi11Farewell is how long closing waits for the far end to have heard it.
	vxi11Farewell = 100 * time.Millisecond
)

var vxi11Errors = map[uint32]string{
	1: "syntax error", vxi11ErrAccess: "device not accessible", 4: "invalid link", 5: "parameter error",
	6: "channel not established", vxi11ErrUnsupported: "not supported", vxi11ErrResources: "out of resources",
	vxi11ErrLocked: "locked", 12: "no lock held", vxi11ErrTimeout: "I/O timeout", 17: "I/O error", 21: "invalid address",
	23: "abort", 29: "channel already established",
}

// vxi11Error puts an error code into words.
func vxi11Error(what string, code uint32) error {
	words, known := vxi11Errors[code]
	if !known {
		words = "unknown"
	}
	said := fmt.Sprintf("%s: %s (error %d)", what, words, code)
	switch code {
	case 0:
		return nil
	case vxi11ErrLocked:
		return fmt.Errorf("%w: %s: someone else is connected to it and has locked it", ErrBusy, said)
	case vxi11ErrResources:
		return fmt.Errorf("%w: %s: someone else is connected to it", ErrBusy, said)
	}
	return errors.New(said)
}

// vxi11Port is a link to an instrument by VXI-11: calls, each with its answer.
// A read is a call, too. It may go on when we have stopped waiting for it; its
// answer is then waited for before anything else is called.
type vxi11Port struct {
	rpc     *rpcClient
	line    Line
	link    uint32
	most    int    // bytes that the far end takes in one write
	asked   bool   // something was sent since the last end of a message
	reading bool   // a read was called whose answer is not here yet
	answer  []byte // received, not yet handed on
	whole   bool   // a message ends behind it
	end     bool   // the last read handed the end on
	args    []byte
}

// read hands on what comes within d. Where nothing was asked nothing is read:
// an instrument that has nothing to say takes that for an error.
func (p *vxi11Port) read(b []byte, d time.Duration) (int, error) {
	deadline := time.Now().Add(d)
	for !p.ready() {
		if p.asked && !p.reading {
			if err := p.beginRead(); err != nil {
				return 0, err
			}
		}
		ok, err := p.finishRead(p.rpc.within(deadline))
		if err != nil || !ok {
			return 0, err
		}
	}
	return p.hand(b), nil
}

// glance looks whether a read has ended meanwhile that was given up.
func (p *vxi11Port) glance(b []byte) (int, error) {
	if !p.ready() {
		if ok, err := p.finishRead(p.rpc.glance); err != nil || !ok || !p.ready() {
			return 0, err
		}
	}
	return p.hand(b), nil
}

// ready reports whether there is something to hand on: a message, or more than
// any line has.
func (p *vxi11Port) ready() bool { return p.whole || len(p.answer) > p.line.Limit }

func (p *vxi11Port) hand(b []byte) int {
	n := copy(b, p.answer)
	p.answer = append(p.answer[:0], p.answer[n:]...)
	p.end = p.whole && len(p.answer) == 0
	if p.end {
		p.whole = false
	}
	return n
}

// ended reports whether the last read handed on the end of a message.
func (p *vxi11Port) ended() bool { return p.end }

// readSize is how much one read asks for.
func (p *vxi11Port) readSize() int { return p.line.Limit + len("\r\n") }

func (p *vxi11Port) beginRead() error {
	wait := min(vxi11Step, p.line.AnswerTimeout)
	p.args = appendUints(p.args[:0], p.link, uint32(p.readSize()), uint32(wait.Milliseconds()), 0, 0, 0)
	p.reading = true
	p.end = false
	return p.rpc.send(vxi11Core, vxi11Version, vxi11Read, p.args)
}

// finishRead takes the answer to a read, if it comes. ok is false if not.
func (p *vxi11Port) finishRead(get func([]byte) (int, error)) (ok bool, err error) {
	p.end = false
	results, ok, err := p.rpc.reply(get)
	if err != nil || !ok {
		return false, err
	}
	if !p.reading {
		return true, nil // an answer to nothing
	}
	p.reading = false
	code, reason, data := results.uint(), results.uint(), results.opaque()
	if results.short || len(data) > p.readSize() {
		return false, fmt.Errorf("read: it answers with data that cannot be read: %w", errForeign)
	}
	if code != 0 && code != vxi11ErrTimeout {
		return false, vxi11Error("read", code)
	}
	p.answer = append(p.answer, data...)
	if code == 0 && reason&vxi11ReasonEnd != 0 {
		p.whole, p.asked = true, false
		if len(p.answer) == 0 {
			p.answer = append(p.answer, p.line.ending()...) // an empty message is an empty line
		}
	}
	return true, nil
}

// settle waits for a read that was given up, and throws its answer away.
func (p *vxi11Port) settle() error {
	if p.reading {
		p.reading = false
		if _, err := p.rpc.await(context.Background(), time.Now().Add(vxi11Step+vxi11Slack)); err != nil {
			return heard("read", err)
		}
	}
	p.answer, p.whole, p.end = p.answer[:0], false, false
	return nil
}

// write sends one message, in pieces that the far end takes.
func (p *vxi11Port) write(b []byte) error {
	if err := p.settle(); err != nil {
		return err
	}
	for len(b) > 0 {
		n, err := p.writePiece(b[:min(len(b), p.most)], len(b) <= p.most)
		if err != nil {
			return err
		}
		b = b[n:]
	}
	p.asked = true
	return nil
}

func (p *vxi11Port) writePiece(b []byte, last bool) (int, error) {
	flags := uint32(0)
	if last {
		flags = vxi11FlagEnd
	}
	wait := p.line.WriteTimeout
	p.args = appendUints(p.args[:0], p.link, uint32(wait.Milliseconds()), 0, flags)
	p.args = appendOpaque(p.args, b)
	results, err := p.rpc.call(context.Background(), time.Now().Add(wait+vxi11Slack), vxi11Core, vxi11Version, vxi11Write, p.args)
	if err != nil {
		return 0, heard("write", err)
	}
	code, taken := results.uint(), results.uint()
	switch {
	case results.short || uint64(taken) > uint64(len(b)):
		return 0, fmt.Errorf("write: it answers with data that cannot be read: %w", errForeign)
	case code != 0:
		return 0, vxi11Error("write", code)
	case taken == 0:
		return 0, errors.New("write: it took nothing")
	}
	return int(taken), nil
}

// clear makes the far end forget what is on its way (device clear). One that
// cannot do that is read until it has no more to say.
func (p *vxi11Port) clear() error {
	if err := p.settle(); err != nil {
		return err
	}
	wait := max(vxi11Slack, p.line.AnswerTimeout)
	p.args = appendUints(p.args[:0], p.link, 0, 0, uint32(wait.Milliseconds()))
	results, err := p.rpc.call(context.Background(), time.Now().Add(wait), vxi11Core, vxi11Version, vxi11Clear, p.args)
	if err != nil {
		return heard("device clear", err)
	}
	code := results.uint()
	if results.short {
		return fmt.Errorf("device clear: it answers with data that cannot be read: %w", errForeign)
	}
	p.asked = code == vxi11ErrUnsupported
	if p.asked {
		return nil
	}
	return vxi11Error("device clear", code)
}

// close takes leave, without insisting.
func (p *vxi11Port) close() error {
	p.args = appendUints(p.args[:0], p.link)
	p.rpc.timeout = vxi11Farewell
	if p.rpc.send(vxi11Core, vxi11Version, vxi11DestroyLink, p.args) == nil {
		_, _ = p.rpc.await(context.Background(), time.Now().Add(vxi11Farewell))
	}
	return p.rpc.close()
}
