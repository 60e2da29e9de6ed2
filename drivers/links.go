package drivers

import (
	"context"
	"fmt"
	"strings"
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

	talk    sync.Mutex // held from choosing an address to the end of the exchange
	reaches string     // whom the far end last was told to reach; empty: not known
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
// lives. The line settings of whoever opened it hold for all. choose is the
// phrase that makes the far end reach the link's address; empty: there is none.
func (l *Links) dial(ctx context.Context, a wire.Address, line wire.Line, choose string) (wire.Link, error) {
	p := l.place(a.Place())
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.conn == nil || !p.conn.Alive() {
		conn, err := wire.Open(ctx, a, line)
		if err != nil {
			return nil, err
		}
		p.conn, p.users = conn, 0
		p.talk.Lock()
		p.reaches = ""
		p.talk.Unlock()
	}
	p.users++
	u := &user{Conn: p.conn, place: p, unit: a.Unit}
	if choose == "" {
		return u, nil
	}
	return &addressed{user: u, choose: strings.Replace(choose, "{}", a.Unit, 1)}, nil
}

// user is one instrument's hold on a connection. The last one to let go closes
// it; a connection that was replaced is closed by whoever lets go of it.
type user struct {
	*wire.Conn
	place *place
	unit  string
	once  sync.Once
}

// Whereabouts tells the instruments of one wire apart by their address on it.
func (u *user) Whereabouts() wire.Whereabouts {
	w := u.Conn.Whereabouts()
	if u.unit == "" {
		return w
	}
	if w.Adapter != "" {
		w.Adapter += " address " + u.unit
	}
	if w.Path != "" {
		w.Path += " address " + u.unit
	}
	return w
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

// addressed is a hold on a connection whose far end has to be told whom it shall
// reach: a gateway, or a pair of wires with several instruments. It is told when
// somebody else was reached last, and again after anything went wrong.
type addressed struct {
	*user
	choose string
}

// reach holds the connection for one exchange with this instrument.
func (a *addressed) reach(ctx context.Context, exchange func() error) error {
	p := a.place
	p.talk.Lock()
	defer p.talk.Unlock()
	if p.reaches != a.unit {
		if err := a.Conn.Send(ctx, a.choose); err != nil {
			p.reaches = ""
			return fmt.Errorf("choose address %s: %w", a.unit, err)
		}
		p.reaches = a.unit
	}
	err := exchange()
	if err != nil {
		p.reaches = ""
	}
	return err
}

// Query is that of a [wire.Link], with this instrument.
func (a *addressed) Query(ctx context.Context, request string) (answer string, err error) {
	err = a.reach(ctx, func() (err error) { answer, err = a.Conn.Query(ctx, request); return err })
	return answer, err
}

// Send is that of a [wire.Link], to this instrument.
func (a *addressed) Send(ctx context.Context, request string) error {
	return a.reach(ctx, func() error { return a.Conn.Send(ctx, request) })
}

// Exchange is that of a [wire.Link], with this instrument.
func (a *addressed) Exchange(ctx context.Context, request []byte, split wire.Split) (frame []byte, err error) {
	err = a.reach(ctx, func() (err error) { frame, err = a.Conn.Exchange(ctx, request, split); return err })
	return frame, err
}

// Drain empties the line for all that share it; whom it reaches is said anew.
func (a *addressed) Drain(ctx context.Context) error {
	a.place.talk.Lock()
	defer a.place.talk.Unlock()
	a.place.reaches = ""
	return a.Conn.Drain(ctx)
}
