package rules

import (
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/rules/kind"
)

// channel is a channel of the job: where it stands and who listens to it.
type channel struct {
	info     capture.ChannelInfo
	place    capture.Placement
	placedAt capture.Instant
	stood    bool // on a rail or a point, at some time of the job
	idle     bool // another function of the same input was placed since
	rail     *railState
	watchers []*watcher
	beside   overheard // for rules that hold another channel against this one
}

// straddles reports whether the reading was begun before the channel was put
// where it is: it saw the point before, or the way between. What a person typed
// is filed by the same act, and the seconds of looking and typing before it
// belong to the rail that was named.
func (c *channel) straddles(r *capture.Reading) bool {
	return !r.Flags.Has(capture.Typed|capture.ByEye) && r.Measured != 0 && r.Measured.Add(-r.HalfWidth-c.info.Aperture/2) < c.placedAt
}

// place takes a placement: the channel stands elsewhere from now on, and the
// other functions of its input stand nowhere.
func (e *Engine) place(at capture.Instant, p capture.Placement) {
	if e.places.Apply(at, p) != nil {
		return // a correction of what is not there says nothing about now
	}
	ch := e.channel(p.Channel)
	before := ch.place
	e.roomLeft(before, p)
	now, since, _ := e.places.Now(p.Channel)
	if p.Corrects != 0 && since != p.Corrects {
		return // mends the past only
	}
	ch.place, ch.placedAt, ch.idle = now, since, false
	if now.Rail != "" || now.Point != "" {
		ch.stood = true
		e.idleSiblings(ch)
	}
	var anew *channel
	if now.Hold == capture.Touched || moved(before, now) {
		anew = ch
	}
	e.reseat(at, anew)
}

func moved(a, b capture.Placement) bool {
	return a.Rail != b.Rail || a.Point != b.Point || a.Return != b.Return || a.Hold != b.Hold
}

func (e *Engine) idleSiblings(ch *channel) {
	if ch.info.Group == "" {
		return
	}
	for _, o := range e.known {
		if o != ch && o.info.ID.Instrument() == ch.info.ID.Instrument() && o.info.Group == ch.info.Group {
			o.idle = true
		}
	}
}

// describe takes over what the roster says of the channels. Of a channel that
// it does not list nothing is known but the quantity of its readings.
func (e *Engine) describe() {
	for _, ch := range e.known {
		if info, known := e.roster.Channel(ch.info.ID); known {
			ch.info = info
		}
	}
}

// channel returns a channel of the job, made when it is first named.
func (e *Engine) channel(id capture.ChannelID) *channel {
	ch := e.channels[id]
	if ch == nil {
		ch = &channel{info: capture.ChannelInfo{ID: id}}
		e.channels[id], e.known = ch, append(e.known, ch)
		e.describe()
	}
	return ch
}

// reseat gives every rule the channel it listens to. A channel that was placed
// anew begins a new contact.
func (e *Engine) reseat(at capture.Instant, anew *channel) {
	for _, ch := range e.known {
		ch.watchers, ch.rail = nil, e.rail(ch.place.Rail)
	}
	for _, d := range e.formulas {
		d.channel.watchers = nil
	}
	e.hearBeside()
	for _, w := range e.watchers {
		ch := e.choose(w)
		if ch != w.channel || ch != nil && (e.renewed(ch, anew) || !w.sat || w.seat.Differs(e.seatOf(w, ch))) {
			e.sit(w, at, ch)
		}
		if ch != nil {
			ch.watchers = append(ch.watchers, w)
		}
	}
	e.rearm(at)
}

func (e *Engine) sit(w *watcher, at capture.Instant, ch *channel) {
	w.channel, w.sat, w.dirty, w.seat = ch, true, true, kind.Seat{}
	w.presentSince, w.absentSince = 0, 0
	if ch != nil {
		w.seat = e.seatOf(w, ch)
	}
	w.judge.Room(e.room)
	w.judge.Sit(at, w.seat)
}

// autoOff is how long the channel's instrument stays on without a key pressed.
func (e *Engine) autoOff(ch *channel) time.Duration {
	for _, in := range e.roster.Instruments {
		if slices.ContainsFunc(in.Channels, func(c capture.ChannelInfo) bool { return c.ID == ch.info.ID }) {
			return in.AutoOff
		}
	}
	return 0
}

// choose returns the channel a rule listens to: one that is clipped before one
// that is touched; of clipped ones the one that stood there first, for its
// history; of touched ones the newest, for that is what the hands do now.
func (e *Engine) choose(w *watcher) *channel {
	if w.rule.Of != "" {
		return e.chosen(w)
	}
	var best *channel
	if w.kind.Need == kind.Always {
		return nil // it listens to acts
	}
	for _, id := range e.places.Channels() {
		ch := e.channels[id]
		if ch.idle || ch.place.Rail != w.rule.Rail || !w.kind.Listen.Hears(ch.info) {
			continue
		}
		if best == nil || better(ch, best) {
			best = ch
		}
	}
	return best
}

func better(a, b *channel) bool {
	if a.place.Hold != b.place.Hold {
		return a.place.Hold == capture.Clipped
	}
	if a.place.Hold == capture.Clipped {
		return a.placedAt < b.placedAt
	}
	return a.placedAt > b.placedAt
}

// upAfter is how long a rail must lie in its band before it counts as powered
// although an output was switched off and nobody said "on": longer than charge
// left in capacitors holds it there.
const upAfter = 10 * time.Second

// railState is what the rules of a rail share across channels.
type railState struct {
	rail     capture.Rail
	watchers []*watcher
	heard    capture.Reading // newest voltage since the last tick
	heardAt  capture.Instant // 0: none
	heardOf  *channel
	inBand   capture.Instant // in band without a break since; 0: not
	up       bool
	beside   overheard // for rules that hold another rail against this one
}

func (r *railState) hear(at capture.Instant, ch *channel, v *capture.Reading) {
	if v.Quantity != capture.DCVoltage || ch.info.Setpoint || !v.Good() {
		return
	}
	r.heard, r.heardAt, r.heardOf = *v, at, ch
	r.beside.hear(at, v)
	switch {
	case !r.rail.Bounds.Contains(v.Value):
		r.inBand = 0
	case r.inBand == 0:
		r.inBand = at
	}
}

// tell hands what was heard since the last tick to the rules that listen to
// another channel.
func (r *railState) tell() {
	if r.heardAt == 0 {
		return
	}
	for _, w := range r.watchers {
		if w.channel != r.heardOf {
			w.judge.Beside(r.heardAt, &r.heard)
		}
	}
	r.heardAt = 0
}

// turnedUp reports whether the rail has just shown that it is powered.
func (r *railState) turnedUp(at capture.Instant) bool {
	was := r.up
	r.up = r.inBand != 0 && at.Sub(r.inBand) >= upAfter
	return r.up && !was
}

func (r *railState) forget() {
	r.heardAt, r.inBand, r.up = 0, 0, false
	r.beside.forget()
}
