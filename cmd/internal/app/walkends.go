package app

import (
	"fmt"

	"steadyrail/capture"
)

// endsWalk says that a placement by hand ends the walk that goes on with the same
// meter; "" where none does. It is asked before the placement is made.
func (a *App) endsWalk(p capture.Placement) string {
	if p.Corrects != 0 || p.Rail == "" && p.Point == "" {
		return ""
	}
	a.walks.mu.Lock()
	defer a.walks.mu.Unlock()
	for _, w := range a.walks.byJob {
		if w.active() && (p.Channel == w.setup.Volts || p.Channel == w.setup.Ohms) {
			return fmt.Sprintf(" The walk with %s ends with that: it goes nowhere while a hand places its meter. What it has filed stays; steadyrail walk begins another.", w.meter())
		}
	}
	return ""
}

// leaves returns the channel that a walk leaves its meter set to: what a hand has
// placed, or volts.
func (w *walking) leaves() capture.ChannelID {
	if p, _, _ := w.job.book.Placements().Now(w.setup.Ohms); p.Rail != "" || p.Point != "" {
		return w.setup.Ohms
	}
	return w.setup.Volts
}
