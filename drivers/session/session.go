// Package session is what every dialect does alike with its one instrument: it
// opens and gives up the link, makes sure who is at the other end, and keeps
// the description that others read meanwhile.
//
// # Who is there
//
// [Session.Arrive] climbs down a ladder: the serial number that the instrument
// itself gives, else the one of its adapter, else the socket it is plugged
// into. The rung is the identity's Source. Whoever is there must be the
// expected one, and the one that was there before: anything else is
// [ErrMismatch] with both names.
//
// # Who may call it
//
// The rooms of the dialects embed a [Session]. Info, Resyncs and Transfer may
// be called from any goroutine, everything else by the one that measures.
package session

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers/wire"
)

// DefaultEvery is the poll interval of a channel whose model says nothing.
const DefaultEvery = 200 * time.Millisecond

// The rungs of the ladder, as the identity's Source.
const (
	ByInstrument = "idn"     // the instrument said its serial number
	ByAdapter    = "adapter" // its adapter has one
	ByPath       = "path"    // only the socket, or the network address, is known
)

// Options make a [Session].
type Options struct {
	Info     capture.InstrumentInfo // without identity and channels
	Channels []capture.ChannelInfo  // ID is the name alone; Every 0 is DefaultEvery
	Expect   capture.Identity       // what is empty is not compared
	Every    time.Duration          // poll interval of all channels; 0: their own
	Dial     wire.Dial
	Baud     int // of the line, for Transfer; 0: takes no time
}

// Session is one instrument's connection. Use [New].
type Session struct {
	name   string
	expect capture.Identity
	dial   wire.Dial
	baud   int
	link   wire.Link        // nil: not connected
	known  capture.Identity // who answered first; empty before

	mu      sync.Mutex
	info    capture.InstrumentInfo // guarded by mu
	resyncs atomic.Uint64
}

// New makes a session. Nothing is opened before [Session.Open].
func New(o Options) *Session {
	s := &Session{name: o.Info.Name, expect: o.Expect, dial: o.Dial, baud: o.Baud, info: o.Info}
	s.info.Channels = nil
	for _, c := range o.Channels {
		c.ID = capture.ChannelID(o.Info.Name) + "/" + c.ID
		if c.Every == 0 {
			c.Every = DefaultEvery
		}
		if o.Every != 0 {
			c.Every = o.Every
		}
		s.info.Channels = append(s.info.Channels, c)
	}
	return s
}

// Name is the instrument's.
func (s *Session) Name() string { return s.name }

// Info describes the instrument. The identity is empty before the first
// connection.
func (s *Session) Info() capture.InstrumentInfo {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.info
}

// Resyncs counts how often the driver had to find its place in the answers
// again.
func (s *Session) Resyncs() uint64 { return s.resyncs.Load() }

// Resynced counts one more.
func (s *Session) Resynced() { s.resyncs.Add(1) }

// Transfer returns how long so many characters of ten bits are on the line.
func (s *Session) Transfer(characters int) time.Duration {
	if s.baud <= 0 {
		return 0
	}
	return time.Duration(characters) * 10 * time.Second / time.Duration(s.baud)
}

// Open gives up the link there may be, and opens it anew.
func (s *Session) Open(ctx context.Context) error {
	_ = s.Drop() // a second connection starts afresh; the old link's error is stale
	link, err := s.dial(ctx)
	s.link = link
	if err != nil {
		s.link = nil
	}
	return err
}

// Link is the open link, nil when there is none.
func (s *Session) Link() wire.Link { return s.link }

// Drop gives the link up and sends nothing. Calling it twice is harmless.
func (s *Session) Drop() error { return s.end(wire.Abandon) }

// Leave gives the link up on purpose: with the line's closing phrases, where it
// has some. Calling it twice is harmless.
func (s *Session) Leave() error { return s.end(wire.Link.Close) }

func (s *Session) end(by func(wire.Link) error) error {
	if s.link == nil {
		return nil
	}
	err := by(s.link)
	s.link = nil
	return err
}

// Arrive takes who answered, completes it down the ladder, and compares it with
// whom the configuration expects and with who was there before. The zero
// identity is an instrument that says nothing of itself.
func (s *Session) Arrive(id capture.Identity) error {
	id = onLadder(id, wire.WhereaboutsOf(s.link))
	if err := s.compare(id); err != nil {
		return err
	}
	s.known = id
	s.mu.Lock()
	s.info.Identity = id
	s.mu.Unlock()
	return nil
}

// onLadder names the rung on which an instrument is known. IEEE 488.2, 10.14
// has "0" for a serial number that there is not.
func onLadder(id capture.Identity, w wire.Whereabouts) capture.Identity {
	switch {
	case id.Serial != "" && id.Serial != "0":
		id.Source = ByInstrument
	case w.Adapter != "":
		id.Serial, id.Source = w.Adapter, ByAdapter
	case w.Path != "":
		id.Serial, id.Source = w.Path, ByPath
	default:
		id.Source = ""
	}
	return id
}

func (s *Session) compare(id capture.Identity) error {
	differs := func(want, got string) bool { return want != "" && want != got }
	e := s.expect
	if differs(e.Maker, id.Maker) || differs(e.Model, id.Model) || differs(e.Serial, id.Serial) {
		return fmt.Errorf("%w: %s is there, %s was expected: nothing is filed; check the cables", ErrMismatch, id, e)
	}
	if s.known != (capture.Identity{}) && !s.known.Same(id) {
		return fmt.Errorf("%w: %s is there, it was %s before: nothing is filed; check the cables", ErrMismatch, id, s.known)
	}
	return nil
}

// Failed names the instrument in an error, and lets go of a link that is gone.
func (s *Session) Failed(what string, err error) error {
	if errors.Is(err, wire.ErrGone) || errors.Is(err, wire.ErrStuck) || errors.Is(err, wire.ErrClosed) {
		_ = s.Drop() // the cause is err
	}
	return fmt.Errorf("%s: %s: %w", s.name, what, err)
}

// Channel returns the index of a channel, in the order of the options. The error
// wraps [ErrNoChannel].
func (s *Session) Channel(id capture.ChannelID) (int, error) {
	if strings.HasPrefix(string(id), s.name+"/") {
		for i := range s.info.Channels { // the list itself never changes
			if s.info.Channels[i].ID == id {
				return i, nil
			}
		}
	}
	return 0, fmt.Errorf("%w: %s", ErrNoChannel, id)
}
