package wire

import (
	"context"
	"fmt"
	"io"
	"strings"
	"sync"
)

// Player is a [Link] that answers from a recording, for tests and for looking
// at what an instrument once said. Every call must be the recorded one, in the
// recorded order; anything else is an error that wraps [ErrRecording] and names
// the row. Times do not count.
type Player struct {
	mu     sync.Mutex
	events []event
	next   int
}

// NewPlayer reads a whole recording, see [Recorder].
func NewPlayer(r io.Reader) (*Player, error) {
	events, err := parseRecording(r)
	if err != nil {
		return nil, err
	}
	return &Player{events: events}, nil
}

// Query returns the recorded answer or error, if this was asked next.
func (p *Player) Query(_ context.Context, request string) (string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.peek(1)
	if err := p.expect(sent, request); err != nil {
		return "", err
	}
	if !ok || (e.mark != received && e.mark != failed) {
		return "", fmt.Errorf("%w: %q was sent without an answer, and now one is asked for", ErrRecording, request)
	}
	p.next++
	if e.mark == failed {
		return "", fmt.Errorf("%q: %w", request, faultNamed(e.text))
	}
	return e.text, nil
}

// Exchange returns the recorded frame or error, if these bytes were sent next.
// The frame must be one that split would have found.
func (p *Player) Exchange(_ context.Context, request []byte, split Split) ([]byte, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.peek(1)
	if err := p.expect(bytesOut, fmt.Sprintf("% x", request)); err != nil {
		return nil, err
	}
	if !ok { // it was cut off: elsewhere an answer or an error follows, which was checked
		return nil, fmt.Errorf("%w: it ends behind % x, and now the answer is asked for", ErrRecording, request)
	}
	p.next++
	if e.mark == failed {
		return nil, fmt.Errorf("% x: %w", request, faultNamed(e.text))
	}
	frame, _ := e.bytes()
	if skip, length := split(frame); skip != 0 || length != len(frame) {
		return nil, fmt.Errorf("%w: row %d: % x is not taken for one frame", ErrRecording, e.row, frame)
	}
	return frame, nil
}

// Send returns nil, or the recorded error, if this was sent next.
func (p *Player) Send(_ context.Context, request string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.peek(1)
	if err := p.expect(sent, request); err != nil {
		return err
	}
	if !ok {
		return nil
	}
	switch e.mark {
	case received:
		return fmt.Errorf("%w: row %d: %q was answered, and now no answer is asked for", ErrRecording, e.row, request)
	case failed:
		p.next++
		return fmt.Errorf("%q: %w", request, faultNamed(e.text))
	}
	return nil
}

// Drain returns nil if the line was drained next.
func (p *Player) Drain(context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.expect(drained, "")
}

// Close does nothing; [Player.Done] tells whether all was played.
func (p *Player) Close() error { return nil }

// Done returns an error that names the first row that was not played.
func (p *Player) Done() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if e, ok := p.peek(0); ok {
		return fmt.Errorf("%w: row %d was not played: %v", ErrRecording, e.row, e)
	}
	return nil
}

func (p *Player) peek(ahead int) (event, bool) {
	if p.next+ahead >= len(p.events) {
		return event{}, false
	}
	return p.events[p.next+ahead], true
}

// says compares what an event holds: bytes may be spaced as one likes.
func (e event) says(text string) bool {
	if e.mark == bytesOut {
		return strings.EqualFold(strings.ReplaceAll(e.text, " ", ""), strings.ReplaceAll(text, " ", ""))
	}
	return e.text == text
}

func (p *Player) expect(m mark, text string) error {
	e, ok := p.peek(0)
	got := event{mark: m, text: text}
	if !ok {
		return fmt.Errorf("%w: it is used up, and now comes \"%c %s\"", ErrRecording, m, text)
	}
	if e.mark != got.mark || !e.says(got.text) {
		return fmt.Errorf("%w: row %d: recorded is \"%c %s\", now comes \"%c %s\"", ErrRecording, e.row, e.mark, e.text, m, text)
	}
	p.next++
	return nil
}
