package drivers

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"steadyrail/drivers/wire"
)

// Links are the connections of a bench. Instruments at the same place share
// one. The zero value is ready; its methods may be called from any goroutine.
type Links struct {
	// Unset, where it is set, is told of each opened place whose port does not do
	// what a model only wished for. It is called by the goroutine that connects.
	Unset func(place, what string)

	mu     sync.Mutex
	places map[string]*place
}

// place is where a connection goes, and how many instruments use it. Opening
// one may take seconds and holds up nobody else's.
type place struct {
	mu    sync.Mutex
	conn  *wire.Conn
	users int
	tells bool // its users choose an address before they speak

	talk    sync.Mutex // held from choosing an address to the end of the exchange
	reaches string     // whom the far end last was told to reach; empty: not known
	owed    time.Time  // until then an answer that was given up may still come
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
		p.conn, p.users, p.tells = conn, 0, choose != ""
		if what := conn.Unset(); what != "" && l.Unset != nil {
			l.Unset(a.Place(), what)
		}
		p.talk.Lock()
		p.reaches = ""
		p.talk.Unlock()
	}
	if p.tells != (choose != "") {
		return nil, fmt.Errorf("%w: some instruments on %s are reached by an address and one is not: it would hear whoever was reached last: give each its address", ErrAddress, a.Place())
	}
	p.users++
	u := &user{Conn: p.conn, place: p, unit: a.Unit}
	if choose == "" {
		return u, nil
	}
	patience := wire.DefaultLine().With(line).With(a.Line).AnswerTimeout
	return &addressed{hold: u, choose: strings.Replace(choose, "{}", a.Unit, 1), patience: patience}, nil
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
func (u *user) Close() error { return u.end((*wire.Conn).Close) }

// Abandon is Close without a word, see [wire.Abandon].
func (u *user) Abandon() error { return u.end((*wire.Conn).Abandon) }

func (u *user) end(by func(*wire.Conn) error) (err error) {
	u.once.Do(func() {
		u.place.mu.Lock()
		defer u.place.mu.Unlock()
		if u.place.conn == u.Conn {
			if u.place.users--; u.place.users > 0 {
				return
			}
			u.place.conn = nil
		}
		err = by(u.Conn)
	})
	return err
}

// addressed is a hold on a connection whose far end has to be told whom it shall
// reach: a gateway, or a pair of wires with several instruments. It is told when
// somebody else was reached last, and again after anything went wrong. It has no
// other way to the connection: an exchange past it would be with whoever was
// reached last.
type addressed struct {
	hold     *user
	choose   string
	patience time.Duration // within which this instrument answers, if at all
}

// reach holds the connection for one exchange with this instrument. An answer
// that another one was not waited for long enough, because an act is not to wait
// either, is let pass first: a text does not say whose it is.
func (a *addressed) reach(ctx context.Context, exchange func() error) error {
	p := a.hold.place
	p.talk.Lock()
	defer p.talk.Unlock()
	if p.reaches != a.hold.unit {
		if err := p.letPass(ctx); err != nil {
			return err
		}
		if err := a.hold.Send(ctx, a.choose); err != nil {
			p.reaches = ""
			return fmt.Errorf("choose address %s: %w", a.hold.unit, err)
		}
		p.reaches = a.hold.unit
	}
	asked := time.Now()
	err := exchange()
	if err != nil {
		p.reaches, p.owed = "", asked.Add(a.patience)
	}
	return err
}

// letPass waits until nobody's answer can come any more.
func (p *place) letPass(ctx context.Context) error {
	wait := time.NewTimer(time.Until(p.owed))
	defer wait.Stop()
	select {
	case <-wait.C:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("another instrument on this line may still answer: %w", ErrTimeout)
	}
}

// Query is that of a [wire.Link], with this instrument.
func (a *addressed) Query(ctx context.Context, request string) (answer string, err error) {
	err = a.reach(ctx, func() (err error) { answer, err = a.hold.Query(ctx, request); return err })
	return answer, err
}

// Send is that of a [wire.Link], to this instrument.
func (a *addressed) Send(ctx context.Context, request string) error {
	return a.reach(ctx, func() error { return a.hold.Send(ctx, request) })
}

// Exchange is that of a [wire.Link], with this instrument.
func (a *addressed) Exchange(ctx context.Context, request []byte, split wire.Split) (frame []byte, err error) {
	err = a.reach(ctx, func() (err error) { frame, err = a.hold.Exchange(ctx, request, split); return err })
	return frame, err
}

// Shared is true: others are at the same place.
func (a *addressed) Shared() bool { return true }

// AskAfresh drains what somebody else may have left, and asks this instrument.
func (a *addressed) AskAfresh(ctx context.Context, request string) (answer string, err error) {
	err = a.reach(ctx, func() (err error) {
		if err = a.hold.Drain(ctx); err == nil {
			answer, err = a.hold.Query(ctx, request)
		}
		return err
	})
	return answer, err
}

// Drain empties the line for all that share it; whom it reaches is said anew.
func (a *addressed) Drain(ctx context.Context) error {
	a.hold.place.talk.Lock()
	defer a.hold.place.talk.Unlock()
	a.hold.place.reaches = ""
	return a.hold.Drain(ctx)
}

// Whereabouts, Close and Abandon are those of the hold.
func (a *addressed) Whereabouts() wire.Whereabouts { return a.hold.Whereabouts() }
func (a *addressed) Close() error                  { return a.hold.Close() }
func (a *addressed) Abandon() error                { return a.hold.Abandon() }
