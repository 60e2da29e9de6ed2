package sim

import (
	"math"

	"steadyrail/capture"
)

// display is what a handheld's display shows.
type display struct {
	function string // one of the dial's
	value    float64
	top      float64 // of the range: 6, 60 or 600 and their multiples of a thousand
	over     bool
	hold     bool
	low      bool
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
