package wire

import "context"

// Afresh is [Link.Exchange] on a link that somebody else may have left in doubt:
// what is left of it is drained first, within the same turn. Between a Drain and
// an Exchange of their own, others of a shared link would come in turn, and one
// that is mute would leave the link in doubt again and again.
//
// It is for far ends whose answers say whose they are. A caller that is in doubt
// itself resynchronises instead.
func Afresh(ctx context.Context, l Link, request []byte, split Split) ([]byte, error) {
	if a, ok := l.(interface {
		Afresh(ctx context.Context, request []byte, split Split) ([]byte, error)
	}); ok {
		return a.Afresh(ctx, request, split)
	}
	if err := l.Drain(ctx); err != nil {
		return nil, err
	}
	return l.Exchange(ctx, request, split)
}

// AskAfresh is [Afresh] for a line of text, as [Link.Query] sends it. A text does
// not say whose it is: the request has to be one whose answer does, such as that
// for the identity.
func AskAfresh(ctx context.Context, l Link, request string) (string, error) {
	if a, ok := l.(interface {
		AskAfresh(ctx context.Context, request string) (string, error)
	}); ok {
		return a.AskAfresh(ctx, request)
	}
	if err := l.Drain(ctx); err != nil {
		return "", err
	}
	return l.Query(ctx, request)
}

// Shared reports whether others talk through the same connection, who may leave
// it in doubt.
func Shared(l Link) bool {
	s, ok := l.(interface{ Shared() bool })
	return ok && s.Shared()
}

// Shared is that of the link that is recorded.
func (r *Recorder) Shared() bool { return Shared(r.link) }

// Afresh drains if the link is in doubt, and exchanges, see [Afresh].
func (c *Conn) Afresh(ctx context.Context, request []byte, split Split) ([]byte, error) {
	if err := c.enter(ctx, ""); err != nil {
		return nil, err
	}
	if c.doubt != nil {
		if err := c.drain(ctx); err != nil {
			return nil, c.leave(err)
		}
	}
	frame, err := c.exchange(ctx, request, split)
	return frame, c.leave(err)
}

// Afresh passes the bytes on and writes a drained line and both down.
func (r *Recorder) Afresh(ctx context.Context, request []byte, split Split) ([]byte, error) {
	r.write(event{at: r.since(), mark: drained})
	return r.exchanged(ctx, request, split, func(ctx context.Context, request []byte, split Split) ([]byte, error) {
		return Afresh(ctx, r.link, request, split)
	})
}
