package sim

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"time"

	"steadyrail/capture"
)

// Positions of a handheld's dial.
const (
	DialOff      = "off"
	DialVolts    = "volts"
	DialAltVolts = "ac-volts"
	DialOhms     = "ohms"
)

// The forms in which a handheld sends.
const (
	FormLines    = "lines"    // a line of text a reading
	FormSegments = "segments" // 14 bytes of what its display shows
)

// HandheldOptions make a [Handheld]. The zero value is a meter named handheld
// that sends segment frames by itself on a pseudo-terminal.
type HandheldOptions struct {
	Name string // [HandheldName] or [HandheldName2]; empty: the first
	Form string // empty: FormSegments
	Ask  string // it sends a frame for each of these bytes, and none by itself; empty: by itself
	TCP  bool   // on 127.0.0.1 even where there are pseudo-terminals
}

// Names of the handhelds that a bench may have.
const (
	HandheldName  = "handheld"
	HandheldName2 = "handheld2"
)

// What a handheld takes for a reading: it looks for the aperture, and some time
// later the frame begins. About three readings a second.
const (
	handAperture = 300 * time.Millisecond
	handLag      = 20 * time.Millisecond
	handRest     = 10 * time.Millisecond
	handAmps     = 1e-4 // test current
	handOpen     = 3.0  // V at which the ohms input is open
	handNoise    = 2e-4 // part of the range
	flatBattery  = 0.03 // part that it reads high
)

// Handheld is a meter that talks by itself and knows nothing of who listens. It
// measures the bench's board with two leads of its own; its dial and keys are
// turned and pressed by hand. The demo has none. All methods are safe for
// concurrent use.
type Handheld struct {
	bench *Bench
	name  string
	form  string
	ask   string

	// Guarded by the bench's lock.
	probe probe
	noise *rand.Rand
	gain  float64
	dial  string
	hold  bool
	low   bool
	shown display         // what the display shows, kept on hold
	sent  capture.Instant // see [Handheld.Sent]

	life   sync.Mutex // guards the cable
	end    endpoint
	dir    string
	stop   chan struct{} // nil while unplugged
	done   chan struct{}
	closed bool

	mu       sync.Mutex // guards what goes wrong on it
	mischief map[string]int
	chance   *rand.Rand
	frames   int
}

// NewHandheld lays a handheld beside the board, its dial at volts, and plugs its
// cable in. The bench itself need not be served. The caller closes it.
func NewHandheld(b *Bench, o HandheldOptions) (*Handheld, error) {
	if o.Name == "" {
		o.Name = HandheldName
	}
	if o.Form == "" {
		o.Form = FormSegments
	}
	if o.Name != HandheldName && o.Name != HandheldName2 || o.Form != FormLines && o.Form != FormSegments {
		return nil, fmt.Errorf("simulated handheld: no name %q or no form %q", o.Name, o.Form)
	}
	dir, err := os.MkdirTemp("", "steadyrail-handheld-")
	if err != nil {
		return nil, fmt.Errorf("simulated handheld: %w", err)
	}
	character := stream(1, o.Name)
	h := &Handheld{
		bench: b, name: o.Name, form: o.Form, ask: o.Ask, dir: dir,
		probe: newProbe(stream(1, o.Name+" contact"), b.scenario.Leads), noise: stream(1, o.Name+" noise"),
		gain: between(character, -2e-3, 2e-3), dial: DialVolts,
		mischief: map[string]int{}, chance: stream(1, o.Name+" line"),
		end: newEndpoint(dir, filepath.Base(o.Name), o.TCP),
	}
	if err := h.Plug(); err != nil {
		h.Close()
		return nil, fmt.Errorf("simulated handheld: %w", err)
	}
	return h, nil
}

// Link is the link string of a configuration. It stays when the cable is pulled
// and put back.
func (h *Handheld) Link() string {
	h.life.Lock()
	defer h.life.Unlock()
	return h.end.link()
}

// Plug puts the cable in.
func (h *Handheld) Plug() error {
	h.life.Lock()
	defer h.life.Unlock()
	if h.stop != nil || h.closed {
		return nil
	}
	if err := h.end.plug(); err != nil {
		return err
	}
	h.stop, h.done = make(chan struct{}), make(chan struct{})
	go h.run(h.stop, h.done)
	return nil
}

// Unplug pulls the cable.
func (h *Handheld) Unplug() {
	h.life.Lock()
	defer h.life.Unlock()
	h.unplug()
}

func (h *Handheld) unplug() {
	if h.stop == nil {
		return
	}
	close(h.stop)
	h.end.unplug()
	<-h.done
	h.stop, h.done = nil, nil
}

// Close takes the meter away. Twice is harmless.
func (h *Handheld) Close() {
	h.life.Lock()
	defer h.life.Unlock()
	if h.closed {
		return
	}
	h.closed = true
	h.unplug()
	os.RemoveAll(h.dir)
}

// Frames counts what was sent.
func (h *Handheld) Frames() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.frames
}

// Sent is when the newest frame's last character was on the line. A test holds it
// against when the frame was taken: what the computer delayed is no fault of
// whoever estimates.
func (h *Handheld) Sent() capture.Instant {
	h.bench.mu.Lock()
	defer h.bench.mu.Unlock()
	return h.sent
}
