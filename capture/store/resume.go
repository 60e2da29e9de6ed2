package store

import (
	"context"

	"steadyrail/capture"
)

// notRunning is the reason of the gap that opening marks.
const notRunning = "not running"

// resume finds the end of the log and marks the time since then as a gap,
// unless the job was closed: a stopped daemon leaves an open job unwatched
// whether or not it was stopped in order.
func (j *Job) resume(ctx context.Context, now capture.Instant) error {
	pos, err := j.r.position(ctx)
	if err != nil {
		return err
	}
	j.w.pos, j.w.queue.upto = pos, pos.upto
	shut, err := j.r.shut(ctx)
	if err != nil || shut || pos.seq == 0 {
		return err
	}
	gap := capture.Gap{From: pos.upto, To: now, Reason: notRunning}
	at := now
	if now <= pos.upto {
		at, gap.To = pos.upto+1, pos.upto+1
		gap.Reason = "not running, for how long cannot be told: the clock was set back"
	}
	j.gap = &capture.Record{At: at, Job: j.id, Item: gap}
	j.w.queue.add(entry{at: at, item: gap})
	return nil
}

// position reads where the log ends and gathers the cells that are still open.
func (r *reader) position(ctx context.Context) (position, error) {
	p := position{cells: cells{}}
	newest, head, err := r.lastSeal(ctx)
	if err != nil {
		return p, err
	}
	p.n, p.seq, p.upto, p.head = newest.n, newest.last, newest.upto, head
	if p.channels, err = channelNumbers(ctx, r); err != nil {
		return p, err
	}
	commit, err := r.commitAt(ctx, floorTo(newest.upto, cellWidth), newest)
	if err != nil {
		return p, err
	}
	for first := commit.first; first <= newest.last; first += sliceWidth {
		rows, err := r.readings(ctx, first, min(first+sliceWidth-1, newest.last), nil)
		if err != nil {
			return p, err
		}
		for _, it := range rows {
			p.cells.add(p.channels[channelKey{it.reading.Channel, it.reading.Quantity}], it.seq, it.at, it.reading.Value, it.reading.Flags)
		}
	}
	p.cells.over(newest.upto) // those are in the file
	var alive capture.Instant
	err = r.db.QueryRowContext(ctx, "SELECT upto FROM alive").Scan(&alive)
	p.upto = max(p.upto, alive)
	return p, err
}

// shut reports whether the job was closed and not opened again.
func (r *reader) shut(ctx context.Context) (bool, error) {
	var verb string
	err := r.each(ctx, "SELECT json_extract(body, '$.verb') FROM item WHERE kind = 'act' AND json_extract(body, '$.verb') IN ('open', 'close') ORDER BY seq DESC LIMIT 1", nil,
		func(scan func(...any) error) error { return scan(&verb) })
	return capture.Verb(verb) == capture.ActClose, err
}

// summary reads what the bench index keeps of the file.
func (j *Job) summary(ctx context.Context) (Summary, error) {
	s := Summary{Job: j.id, Path: j.path}
	err := j.r.each(ctx, "SELECT body FROM item WHERE kind = 'sheet' ORDER BY seq DESC LIMIT 1", nil, func(scan func(...any) error) error {
		var body string
		if err := scan(&body); err != nil {
			return err
		}
		sheet, err := into[capture.Sheet]("sheet", body)
		s.sheet(sheet)
		return err
	})
	if err != nil {
		return s, err
	}
	err = j.r.each(ctx, "SELECT at, json_extract(body, '$.verb') FROM item WHERE kind = 'act' AND json_extract(body, '$.verb') IN ('open', 'close') ORDER BY seq", nil,
		func(scan func(...any) error) error {
			var at capture.Instant
			var verb capture.Verb
			err := scan(&at, &verb)
			s.act(at, verb)
			return err
		})
	return s, err
}
