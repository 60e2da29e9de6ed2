package sim

import (
	"fmt"
	"strings"
	"time"

	"steadyrail/capture"
)

// Touch puts a meter's red probe on a point, its black one on the board's
// return, or the thermometer's bead on [PointCase] or [PointRoom]. A hand
// takes 40 to 160 ms to make contact and scatters by some tens of milliohm; a
// clip is steady. A touch takes the probe off wherever it was.
func (b *Bench) Touch(instrument, point string, hold capture.Hold) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	if instrument == Thermo {
		if !b.thermo.putOn(point, hold) {
			return fmt.Errorf("the thermometer goes on %q or %q, not %q", PointCase, PointRoom, point)
		}
		return nil
	}
	m, err := b.meter(instrument)
	if err != nil {
		return err
	}
	at, err := pointNode(point)
	if err != nil {
		return err
	}
	m.putOn(at, hold)
	return nil
}

// Lift takes a meter's probe, or the thermometer's bead, off into the air.
func (b *Bench) Lift(instrument string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	if instrument == Thermo {
		b.thermo.takeOff()
		return nil
	}
	m, err := b.meter(instrument)
	if err != nil {
		return err
	}
	m.takeOff()
	return nil
}

func (b *Bench) meter(instrument string) (*multimeter, error) {
	if m := b.meters[instrument]; m != nil {
		return m, nil
	}
	return nil, fmt.Errorf("%q has no probe: use %s, %s, %s, %s or %s", instrument, DMM, DMM2, DMM3, DMM4, Thermo)
}

// Turn turns the stand-in's trimmer, up positive, at about a turn a second,
// and returns the bench time until the blade is out of the slot: while it is
// in, it disturbs the output by some millivolt. The trimmer has 25 turns of
// about 40 mV and a slipping clutch at its ends.
func (b *Bench) Turn(turns float64) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	return b.world.standIn.trim.turn(turns)
}

// Plug puts a part back: [CN3], [C104], [PS2], or fits the [StandIn] in PS2's
// place, which has to be empty; the supply's leads come off it then, if they
// were on it or on the rail that it feeds. A part that is in place stays there.
func (b *Bench) Plug(part string) error { return b.move(part, true) }

// Unplug takes a part off the board: the connector CN3, the capacitor C104,
// the output pin of PS2, or the stand-in.
func (b *Bench) Unplug(part string) error { return b.move(part, false) }

func (b *Bench) move(part string, in bool) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	w := b.world
	if !known(part, Parts()) {
		return fmt.Errorf("no part %q on this bench: use one of %s", part, strings.Join(Parts(), ", "))
	}
	if in && (part == StandIn && w.in[PS2] || part == PS2 && w.in[StandIn]) {
		return fmt.Errorf("fit %s: its place on the board is taken, unplug the other converter first", part)
	}
	if part == StandIn && in && (w.feed == FeedStandIn || w.feed == FeedRail5) {
		w.feed = FeedNothing
	}
	w.in[part] = in
	w.lookClosely()
	return nil
}

// Feed puts the supply's leads on the board's input, on the stand-in alone, on the
// +5 V rail or on nothing ([Feeds]). At first they are on the board. The output stays as it is.
func (b *Bench) Feed(to string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.catchUp()
	w := b.world
	switch {
	case !known(to, Feeds()):
		return fmt.Errorf("the supply feeds %s, not %q", strings.Join(Feeds(), ", "), to)
	case to == FeedRail5 && w.in[StandIn]:
		return fmt.Errorf("feed %s: the stand-in feeds it, unplug it from the board first", FeedRail5)
	case to == FeedStandIn && w.in[StandIn]:
		return fmt.Errorf("feed the stand-in alone: it is fitted, unplug it from the board first")
	}
	w.feed = to
	w.lookClosely()
	return nil
}

func known(s string, list []string) bool {
	for _, k := range list {
		if k == s {
			return true
		}
	}
	return false
}
