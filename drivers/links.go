package drivers

import (
	"context"
	"sync"

	"steadyrail/drivers/wire"
)

// Links are the connections of a bench. Instruments at the same place share
// one. The zero value is ready; its methods may be called from any goroutine.
type Links struct {
	mu     sync.Mutex
	places map[string]*place
}

// place is where a connection goes, and how many instruments use it. Opening
// one may take seconds and holds up nobody else's.
type place struct {
	mu    sync.Mutex
	conn  *wire.Conn
	users int
}

func (l *Links) place(name string) *place {
	l.mu.Lock()
	defer l.mu.Unlock()
	p := l.places[name]
	if p == nil {
		p = &place{}
		if l.places == nil {
			l.places = map[string]*place{}
		}
		l.places[name] = p
	}
	return p
}

// dial returns the connection to a place, a new one if there is none that
// lives. The line settings of whoever opened it hold for all.
func (l *Links) dial(ctx context.Context, a wire.Address, line wire.Line) (wire.Link, error) {
	p := l.place(a.Place())
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.conn == nil || !p.conn.Alive() {
		conn, err := wire.Open(ctx, a, line)
		if err != nil {
			return nil, err
		}
		p.conn, p.users = conn, 0
	}
	p.users++
	return &user{Conn: p.conn, place: p}, nil
}

// user is one instrument's hold on a connection. The last one to let go closes
// it; a connection that was replaced is closed by whoever lets go of it.
type user struct {
	*wire.Conn
	place *place
	once  sync.Once
}

// Close lets go of the connection. Calling it twice is harmless.
func (u *user) Close() (err error) {
	u.once.Do(func() {
		u.place.mu.Lock()
		defer u.place.mu.Unlock()
		if u.place.conn == u.Conn {
			if u.place.users--; u.place.users > 0 {
				return
			}
			u.place.conn = nil
		}
		err = u.Conn.Close()
	})
	return err
}
