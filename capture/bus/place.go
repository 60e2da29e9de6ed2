package bus

import (
	"fmt"

	"steadyrail/capture"
)

func onNothing(p capture.Placement) bool { return p.Rail == "" && p.Point == "" }

func (b *Bus) postPlacement(j *job, p capture.Placement) (capture.Instant, error) {
	if err := b.checkPlacement(j, p); err != nil {
		return 0, fmt.Errorf("place %s in job %s: %w", p.Channel, j.name, err)
	}
	if p.Corrects != 0 {
		return b.correct(j, p)
	}
	if !onNothing(p) {
		b.freeInput(p.Channel)
	}
	return b.place(j, p), nil
}

func (b *Bus) checkPlacement(j *job, p capture.Placement) error {
	if p.Channel == "" {
		return fmt.Errorf("a placement without a channel: %w", ErrNotPostable)
	}
	if p.Rail != "" {
		if _, ok := j.sheet.Rail(p.Rail); !ok {
			return fmt.Errorf("%q: %w; it has %s", p.Rail, ErrNoRail, railNames(j.sheet))
		}
	}
	if p.Corrects != 0 {
		return nil // mends this job's past, whoever has the channel now
	}
	return b.mayServe(j, p)
}

func railNames(s capture.Sheet) string {
	if len(s.Rails) == 0 {
		return "none"
	}
	out := ""
	for i, r := range s.Rails {
		if i > 0 {
			out += ", "
		}
		out += r.Name
	}
	return out
}

// mayServe refuses to take a channel off the point it is on for another job.
// One that is on nothing, or whose job is closed, is free to be put somewhere.
func (b *Bus) mayServe(j *job, p capture.Placement) error {
	for _, ch := range append([]capture.ChannelID{p.Channel}, b.groups[p.Channel]...) {
		to := b.routes[ch]
		if to.job == nil || to.job == j {
			continue
		}
		there, _, _ := to.job.placements.Now(ch)
		if onNothing(p) && ch != p.Channel {
			continue
		}
		if onNothing(p) || !onNothing(there) {
			return fmt.Errorf("%s: %w, %s; take it off there or close that job", ch, ErrServesOther, to.job.name)
		}
	}
	return nil
}

// place records a checked placement and turns the channel's readings to it.
func (b *Bus) place(j *job, p capture.Placement) capture.Instant {
	before, _, known := j.placements.Now(p.Channel)
	to := b.routes[p.Channel]
	// The fold and the route change after the sinks have seen the record, but
	// under the same lock as every reading: nothing can come between.
	at := b.record(j, p)
	_ = j.placements.Apply(at, p) // without a correction it cannot fail
	if to.job != j || !known || before.Rail != p.Rail || before.Point != p.Point || before.Return != p.Return {
		to.moved = at
	}
	b.routes[p.Channel] = route{j, to.moved}
	return at
}

// freeInput takes every other channel of a shared input off its point.
func (b *Bus) freeInput(ch capture.ChannelID) {
	for _, other := range b.groups[ch] {
		to := b.routes[other]
		if to.job == nil {
			continue
		}
		if p, _, _ := to.job.placements.Now(other); !onNothing(p) {
			b.place(to.job, capture.Placement{Channel: other, Why: fmt.Sprintf("%s took the input", ch)})
		}
	}
}

func (b *Bus) correct(j *job, p capture.Placement) (capture.Instant, error) {
	if err := j.placements.Apply(0, p); err != nil {
		return 0, fmt.Errorf("place in job %s: %w: %w", j.name, ErrNoPlacement, err)
	}
	return b.record(j, p), nil
}
