package sim

import (
	"errors"
	"fmt"

	"steadyrail/capture"
)

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

// pushCurrent tells the model where the test current goes.
func (h *Handheld) pushCurrent() {
	w := h.bench.world
	delete(w.inject, h.name)
	if c := h.probe.present(w.now); h.dial == DialOhms && c.made && c.at >= 0 {
		w.inject[h.name] = injection{at: c.at, amps: handAmps}
		w.lookClosely()
	}
}
