package wire

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"time"
)

// step is how long a wait in opening or clearing goes on before it looks
// whether its caller gave up.
const step = 50 * time.Millisecond

// untilStep is the deadline of the next step. An error says that there is none:
// the caller gave up, or the far end stays silent.
func untilStep(ctx context.Context, deadline time.Time) (time.Time, error) {
	late := errors.Is(ctx.Err(), context.DeadlineExceeded)
	if ctx.Err() != nil && !late {
		return time.Time{}, gaveUp(ctx)
	}
	now := time.Now()
	if late || now.After(deadline) {
		return time.Time{}, errSilent
	}
	if next := now.Add(step); next.Before(deadline) {
		return next, nil
	}
	return deadline, nil
}

// errSilent: an accepted connection, and nothing on it.
var errSilent = fmt.Errorf("%w: it accepts the connection and then says nothing: someone else may be connected to it", ErrBusy)

// errForeign: what came cannot be of the protocol that was expected.
var errForeign = errors.New("not of this protocol")

// heard tells a far end that stays silent later on from one that never spoke.
func heard(what string, err error) error {
	if errors.Is(err, errSilent) {
		return fmt.Errorf("%s: no answer", what)
	}
	return fmt.Errorf("%s: %w", what, err)
}

// appendCut appends text from outside, up to a length that a message can carry.
func appendCut(text, part []byte) []byte {
	return append(text, part[:min(len(part), max(0, quoted-len(text)))]...)
}

// explainOpening says why a far end that had accepted the connection could not
// be spoken to.
func explainOpening(a Address, protocol string, err error) error {
	var broken *net.OpError
	switch {
	case errors.Is(err, ErrBusy), errors.Is(err, ErrNoPort), errors.Is(err, ErrTimeout), errors.Is(err, context.Canceled):
	case errors.Is(err, io.EOF), errors.As(err, &broken) && !broken.Timeout():
		err = fmt.Errorf("%w: it accepts the connection and hangs up: someone else may be connected to it (%w)", ErrBusy, err)
	case errors.Is(err, errForeign):
		err = fmt.Errorf("%w: what answers there does not speak %s (%w): check the port number, or use tcp:host:port", ErrNoPort, protocol, err)
	default:
		err = fmt.Errorf("%w: %w", ErrNoPort, err)
	}
	return fmt.Errorf("open %s: %w", a, err)
}

// dialChannel opens one TCP connection for a protocol above it.
func dialChannel(ctx context.Context, where string, l Line) (*tcpPort, error) {
	p, err := dialTCP(ctx, Address{Kind: KindTCP, Path: where}, l)
	if err != nil {
		return nil, err
	}
	return p.(*tcpPort), nil
}
