package sim

import (
	"errors"
	"io"
	"os"
	"time"
)

func (h *Handheld) run(stop <-chan struct{}, done chan<- struct{}) {
	defer close(done)
	for {
		conn, err := h.end.accept()
		if err != nil {
			return
		}
		if h.ask == "" {
			h.talk(conn, stop)
		} else {
			h.answer(conn, stop)
		}
		if c, ok := conn.(io.Closer); ok {
			c.Close()
		}
	}
}

// talk sends a frame after each reading, until the line breaks.
func (h *Handheld) talk(conn io.Writer, stop <-chan struct{}) {
	for {
		frame, ok := h.reading(stop)
		if !ok || h.send(conn, frame) != nil || !sleep(h.bench.clock, handRest, stop) {
			return
		}
	}
}

// answer sends a frame for each request, until the line breaks.
func (h *Handheld) answer(conn io.ReadWriter, stop <-chan struct{}) {
	var b [1]byte
	for {
		if _, err := conn.Read(b[:]); err != nil {
			return
		}
		if b[0] != h.ask[0] {
			continue
		}
		frame, ok := h.reading(stop)
		if !ok || h.send(conn, frame) != nil {
			return
		}
	}
}

// send writes a frame, or what mischief leaves of it. A frame that nobody takes
// is lost, as on a cable: it must not lie about and be taken for a new one.
func (h *Handheld) send(conn io.Writer, frame []byte) error {
	frame = h.spoil(frame)
	if len(frame) == 0 {
		return nil
	}
	if pty, ok := conn.(struct {
		io.Reader
		io.Writer
	}); ok {
		conn = pty.Writer
	}
	if c, ok := conn.(interface{ SetWriteDeadline(time.Time) error }); ok {
		_ = c.SetWriteDeadline(time.Now().Add(50 * time.Millisecond))
	}
	_, err := conn.Write(frame)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return nil
	}
	if err == nil {
		h.mu.Lock()
		h.frames++
		h.mu.Unlock()
	}
	return err
}

func (h *Handheld) spoil(frame []byte) []byte {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(frame) == 0 {
		return nil
	}
	take := func(kind string) bool {
		if h.mischief[kind] == 0 {
			return false
		}
		h.mischief[kind]--
		return true
	}
	if take("mute") {
		return nil
	}
	if take("flip") {
		frame[h.chance.IntN(len(frame))] ^= 1 << h.chance.IntN(8)
	}
	if take("cut") {
		frame = frame[:len(frame)/2]
	}
	if take("noise") {
		var noise []byte
		for range 1 + h.chance.IntN(9) {
			noise = append(noise, byte(h.chance.IntN(256)))
		}
		frame = append(noise, frame...)
	}
	return frame
}
