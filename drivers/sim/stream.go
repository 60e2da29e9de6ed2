package sim

import (
	"errors"
	"fmt"
	"io"
	"math"
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

// display is what a handheld's display shows.
type display struct {
	function string // one of the dial's
	value    float64
	top      float64 // of the range: 6, 60 or 600 and their multiples of a thousand
	over     bool
	hold     bool
	low      bool
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

// hand does something to the meter at the present bench time.
func (h *Handheld) hand(do func(w *world)) {
	h.bench.mu.Lock()
	defer h.bench.mu.Unlock()
	h.bench.catchUp()
	do(h.bench.world)
	h.pushCurrent()
}

// Touch puts the red probe on a point, the black one on the return, see
// [Bench.Touch].
func (h *Handheld) Touch(point string, hold capture.Hold) error {
	at, err := pointNode(point)
	if err != nil {
		return err
	}
	h.hand(func(w *world) { w.schedule(h.probe.touch(w.now, at, hold), h.pushCurrent) })
	return nil
}

// Lift takes the probe off into the air.
func (h *Handheld) Lift() { h.hand(func(w *world) { h.probe.lift(w.now) }) }

// Dial turns the dial.
func (h *Handheld) Dial(to string) error {
	if !known(to, []string{DialOff, DialVolts, DialAltVolts, DialOhms}) {
		return fmt.Errorf("its dial has no %q", to)
	}
	h.hand(func(*world) { h.dial, h.hold = to, false })
	return nil
}

// Hold presses the key that keeps the display, or lets it go again.
func (h *Handheld) Hold(on bool) { h.hand(func(*world) { h.hold = on }) }

// Battery is low, or is not: a low one makes the meter read high.
func (h *Handheld) Battery(low bool) { h.hand(func(*world) { h.low = low }) }

// Mischief lets the next n frames go wrong: mute (not sent), noise (bytes that
// mean nothing in front), cut (ends half way), flip (one wrong bit anywhere).
func (h *Handheld) Mischief(kind string, n int) error {
	if !known(kind, []string{"mute", "noise", "cut", "flip"}) {
		return errors.New("no such mischief: " + kind)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.mischief[kind] = n
	return nil
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

// pushCurrent tells the model where the test current goes.
func (h *Handheld) pushCurrent() {
	w := h.bench.world
	delete(w.inject, h.name)
	if c := h.probe.present(w.now); h.dial == DialOhms && c.made && c.at >= 0 {
		w.inject[h.name] = injection{at: c.at, amps: handAmps}
		w.lookClosely()
	}
}

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

// reading takes one and returns its frame, nil while the meter is off. It is
// false when the cable was pulled meanwhile.
func (h *Handheld) reading(stop <-chan struct{}) (frame []byte, ok bool) {
	h.bench.mu.Lock()
	line := h.bench.lineTime(len(h.frameOf(h.shown)))
	h.bench.mu.Unlock()
	if !sleep(h.bench.clock, handAperture+handLag+line, stop) {
		return nil, false
	}
	h.bench.mu.Lock()
	defer h.bench.mu.Unlock()
	h.bench.catchUp()
	// A computer that woke up late must not make the value older than the meter's
	// data sheet says: the aperture is counted back from the frame's end.
	h.sent = h.bench.clock.Now()
	to := h.sent.Add(-handLag - line)
	h.look(to.Add(-handAperture), to)
	if h.dial == DialOff {
		return nil, true
	}
	return h.frameOf(h.shown), true
}

// frameOf is a display as it is sent. All frames of a form are of one length, but
// for the words that a line ends with.
func (h *Handheld) frameOf(d display) []byte {
	if h.form == FormLines {
		return d.line()
	}
	return d.segments()
}

// look brings the display up to date, unless it is kept.
func (h *Handheld) look(from, to capture.Instant) {
	h.shown.low = h.low
	if h.shown.hold = h.hold; h.hold && h.shown.top != 0 {
		return
	}
	past := h.bench.world.past
	d := display{function: h.dial, hold: h.hold, low: h.low}
	switch h.dial {
	case DialVolts:
		d.value = h.probe.volts(past, from, to, false)
	case DialAltVolts:
		d.value = 0.002 // a rail of direct voltage has next to none
	case DialOhms:
		var volts float64
		d.value, volts, d.over = h.probe.ohmsSeen(past, from, to, handAmps)
		d.over = d.over || math.Abs(volts) > handOpen
	}
	d.value *= 1 + h.gain
	if h.low {
		d.value *= 1 + flatBattery
	}
	d.choose()
	d.value += d.top * handNoise * h.noise.NormFloat64()
	if h.dial != DialVolts {
		d.value = math.Abs(d.value)
	}
	h.shown = d
}

// choose takes the smallest range that has room for the value.
func (d *display) choose() {
	tops := []float64{0.6, 6, 60, 600}
	if d.function == DialOhms {
		tops = []float64{600, 6e3, 60e3, 600e3, 6e6, 60e6}
	}
	for _, d.top = range tops {
		if math.Abs(d.value) < 0.99*d.top {
			return
		}
	}
	d.over = true
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
