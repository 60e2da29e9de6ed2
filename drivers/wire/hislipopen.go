package wire

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"time"
)

const (
	// hislipClient is what we say of ourselves: protocol 1.0, and two letters in
	// the place of a maker's registered ones.
	hislipClient uint32 = 0x0100<<16 | 'X'<<8 | 'X'
	// hislipOverlap is the bit that stands for the overlapped mode, in which
	// answers do not name what they answer.
	hislipOverlap byte = 1
	// hislipPatience is how long a device clear may take at least.
	hislipPatience = time.Second
	// hislipLockPatience is how long the question for locks may take; not every
	// instrument knows it.
	hislipLockPatience = 200 * time.Millisecond
)

// dialHiSLIP opens both channels of an instrument, in synchronized mode.
func dialHiSLIP(ctx context.Context, a Address, l Line) (port, error) {
	where, device := splitDevice(a.Path)
	conn, err := dialChannel(ctx, where, l)
	if err != nil {
		return nil, err
	}
	p := &hislipLink{sync: &hislipChannel{tcpPort: conn}, line: l, number: hislipFirst, asked: hislipNothing}
	if err := p.initialize(ctx, where, device); err != nil {
		_ = p.close()
		return nil, explainOpening(a, "HiSLIP", err)
	}
	return p, nil
}

func (p *hislipLink) initialize(ctx context.Context, where, device string) error {
	deadline := time.Now().Add(dialTimeout)
	head, _, err := p.sync.ask(ctx, deadline, hislipHead{kind: hislipInitialize, parameter: hislipClient}, []byte(device), hislipInitializeResponse)
	if err != nil {
		return err
	}
	conn, err := dialChannel(ctx, where, p.line)
	if err != nil {
		return err
	}
	p.async = &hislipChannel{tcpPort: conn}
	session := head.parameter & 0xFFFF
	if _, _, err = p.async.ask(ctx, deadline, hislipHead{kind: hislipAsyncInitialize, parameter: session}, nil, hislipAsyncInitializeResponse); err != nil {
		return err
	}
	if err := p.agreeOnSize(ctx, deadline); err != nil {
		return err
	}
	if head.control&hislipOverlap != 0 {
		return p.clear() // which asks for synchronized mode
	}
	return nil
}

// agreeOnSize tells how long a message may be that we are sent, and learns how
// long ours may be. Whether the far end counts the header is not to be known,
// so it is counted.
func (p *hislipLink) agreeOnSize(ctx context.Context, deadline time.Time) error {
	ours := binary.BigEndian.AppendUint64(nil, hislipLongest)
	_, text, err := p.async.ask(ctx, deadline, hislipHead{kind: hislipMaximumMessageSize}, ours, hislipMaximumMessageSizeReply)
	if err != nil {
		return err
	}
	if len(text) != 8 {
		return fmt.Errorf("it tells its longest message in %d bytes instead of 8: %w", len(text), errForeign)
	}
	most := binary.BigEndian.Uint64(text)
	if most <= hislipHeaderSize {
		return fmt.Errorf("it takes messages of %d bytes only, less than a header has", most)
	}
	p.most = int(min(most, hislipLongest) - hislipHeaderSize)
	return nil
}

// ask sends a message and waits for one of the kind that answers it. What else
// comes is skipped. The text is cut to a length that a message can carry.
func (c *hislipChannel) ask(ctx context.Context, deadline time.Time, question hislipHead, payload []byte, want byte) (hislipHead, []byte, error) {
	if err := c.write(appendHiSLIP(nil, question.kind, question.control, question.parameter, payload)); err != nil {
		return hislipHead{}, nil, err
	}
	var text []byte
	for {
		next, err := untilStep(ctx, deadline)
		if err != nil {
			return hislipHead{}, nil, err
		}
		part, done, ok, err := c.piece(c.within(next))
		if err != nil {
			return hislipHead{}, nil, err
		}
		if !ok {
			continue
		}
		text = appendCut(text, part)
		switch {
		case done && c.head.kind == want:
			return c.head, text, nil
		case done && (c.head.kind == hislipFatalError || c.head.kind == hislipError):
			return hislipHead{}, nil, c.head.complaint(text)
		case done:
			text = text[:0]
		}
	}
}

// clear makes both ends forget what is on its way, in both channels (device
// clear), and begins to number anew.
func (p *hislipLink) clear() error {
	if err := p.lockedOut(); err != nil {
		return err
	}
	ctx, deadline := context.Background(), time.Now().Add(max(hislipPatience, p.line.AnswerTimeout))
	p.answer, p.whole, p.complaint = p.answer[:0], false, p.complaint[:0]
	if _, _, err := p.async.ask(ctx, deadline, hislipHead{kind: hislipAsyncDeviceClear}, nil, hislipAsyncDeviceClearAck); err != nil {
		return heard("device clear", err)
	}
	head, _, err := p.sync.ask(ctx, deadline, hislipHead{kind: hislipDeviceClearComplete}, nil, hislipDeviceClearAcknowledge)
	if err != nil {
		return heard("device clear", err)
	}
	if head.control&hislipOverlap != 0 {
		return errors.New("it works in overlapped mode only, in which a late answer cannot be told from the right one: use vxi11: or tcp: instead")
	}
	p.number, p.asked, p.delivered = hislipFirst, hislipNothing, false
	return nil
}

// lockedOut looks, after a silence, whether somebody else has locked the
// instrument: nothing of ours is answered then. An instrument that does not
// know the question says nothing about it.
func (p *hislipLink) lockedOut() error {
	deadline := time.Now().Add(min(hislipLockPatience, p.line.AnswerTimeout))
	head, _, err := p.async.ask(context.Background(), deadline, hislipHead{kind: hislipAsyncLockInfo}, nil, hislipAsyncLockInfoResponse)
	if err == nil && head.control == 1 {
		return fmt.Errorf("%w: someone else is connected to it and has locked it", ErrBusy)
	}
	return nil // a connection that broke here is told by what comes next
}
