package rules

import (
	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// overheard keeps what was read since the last tick for rules that judge
// something else and hold it against this. They are told all of it, in order,
// with the tick: one reading of many would move an edge. Its memory is used
// again, so that hearing costs nothing in the steady state.
type overheard struct {
	by   []*watcher
	at   []capture.Instant
	list []capture.Reading
}

func (o *overheard) hear(at capture.Instant, r *capture.Reading) {
	if len(o.by) > 0 {
		o.at, o.list = append(o.at, at), append(o.list, *r)
	}
}

func (o *overheard) tell() {
	for i := range o.list {
		for _, w := range o.by {
			w.judge.Beside(o.at[i], &o.list[i])
			w.dirty = true
		}
	}
	o.forget()
}

func (o *overheard) forget() { o.at, o.list = o.at[:0], o.list[:0] }

// tellBeside hands on what was overheard since the last tick: channels in the
// order in which they were first named, then rails in the order of the sheet.
func (e *Engine) tellBeside() {
	for _, ch := range e.known {
		ch.beside.tell()
	}
	for _, d := range e.formulas {
		d.channel.beside.tell()
	}
	for _, r := range e.rails {
		r.beside.tell()
	}
}

// hearBeside finds anew who holds what against what.
func (e *Engine) hearBeside() {
	for _, ch := range e.known {
		ch.beside.by = nil
	}
	for _, d := range e.formulas {
		d.channel.beside.by = nil
	}
	for _, r := range e.rails {
		r.beside.by = nil
	}
	for _, w := range e.watchers {
		switch w.kind.Against {
		case kind.AgainstChannel:
			if w.rule.Against != "" {
				o := &e.channelOf(capture.ChannelID(w.rule.Against)).beside
				o.by = append(o.by, w)
			}
		case kind.AgainstRail:
			if r := e.rail(w.rule.Against); r != nil {
				r.beside.by = append(r.beside.by, w)
			}
		}
	}
}

// chosen returns the one channel that a rule names, when it can be about the
// rule's rail: it stands on the rail, on a point that is no rail, or was never
// placed, as a formula and a supply are not.
func (e *Engine) chosen(w *watcher) *channel {
	ch := e.channelOf(w.rule.Of)
	away := ch.place.Rail != w.rule.Rail && ch.place.Rail != "" || ch.lifted()
	if ch.idle || away || !w.kind.Listen.HearsOne(w.rule, ch.info) {
		return nil
	}
	return ch
}

// fixed reports whether the channel is wired to what it measures: nobody ever
// placed it, or it is wired as a rule and nobody said otherwise.
func (c *channel) fixed() bool { return c.placedAt == 0 || c.wired() }

// wired reports whether the channel needs no placing: a supply's read-back, and
// a sensor or an ammeter that stays where it was built in. A job opens with every
// channel nowhere, so that alone says nothing; once such a channel stood on
// something, it is where it was put. Probes that wander are nowhere until placed.
func (c *channel) wired() bool {
	if c.stood {
		return false
	}
	switch c.info.Quantity {
	case capture.Temperature, capture.DCCurrent, capture.ACCurrent, capture.Power:
		return true
	}
	return c.info.Setpoint
}

// lifted reports whether the channel was taken off whatever it stood on.
func (c *channel) lifted() bool { return !c.fixed() && c.place.Rail == "" && c.place.Point == "" }
