package store

import (
	"context"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// Kinds of logical records.
const (
	kindReading    = 1
	kindItem       = 2
	kindTransition = 3
)

// row is a logical record as it stands in the file.
type row struct {
	seq        int64
	at         capture.Instant
	kind       byte            // kindReading, kindItem, kindTransition
	reading    capture.Reading // of kindReading
	channel    int64           // of kindReading
	name, body string          // of the others
}

// record returns what the row means. It is not for transitions.
func (r *row) record(job string) (capture.Record, error) {
	if r.kind == kindReading {
		return capture.Record{At: r.at, Job: job, Item: r.reading}, nil
	}
	item, err := decodeItem(r.name, r.body)
	if err != nil {
		return capture.Record{}, fmt.Errorf("record %d of job %s: %w", r.seq, job, err)
	}
	return capture.Record{At: r.at, Job: job, Item: item}, nil
}

// canonical appends the row's canonical bytes.
func (r *row) canonical(c *canon) {
	switch r.kind {
	case kindItem:
		c.item(r.seq, r.at, r.name, r.body)
	case kindTransition:
		c.transition(r.seq, r.at, r.body)
	default:
		c.reading(r.seq, r.at, &r.reading)
	}
}

// walker merges the channels' readings and the other records back into the log.
// Readings are in order of instant and tie, the others know their numbers. It
// holds one block of each channel, and no transaction between two records.
type walker struct {
	r       *reader
	snap    *snapshot
	cursors []*cursor
	others  [2]others
	row     row
}

// walkFrom begins behind a commit.
func (r *reader) walkFrom(ctx context.Context, snap *snapshot, after seal) (*walker, error) {
	w := &walker{r: r, snap: snap, row: row{seq: after.last}}
	w.others = [2]others{
		{kind: kindItem, query: "SELECT seq, at, kind, body FROM item WHERE seq > ? ORDER BY seq LIMIT 512", upto: after.last},
		{kind: kindTransition, query: "SELECT seq, at, '', body FROM transition WHERE seq > ? ORDER BY seq LIMIT 512", upto: after.last},
	}
	for _, id := range sorted(snap.channels) {
		c := &cursor{r: r, id: id, key: snap.channels[id], filling: snap.filling[id]}
		if after.n > 0 {
			if err := c.seek(ctx, after.border()); err != nil {
				return nil, err
			}
		}
		w.cursors = append(w.cursors, c)
	}
	return w, nil
}

// next returns the next record, nil behind the last of the snapshot. It is
// overwritten by the call after.
func (w *walker) next(ctx context.Context) (*row, error) {
	if w.row.seq >= w.snap.newest.last {
		return nil, nil
	}
	seq := w.row.seq + 1
	for i := range w.others {
		o, err := w.others[i].peek(ctx, w.r)
		if err != nil {
			return nil, err
		}
		if o != nil && o.seq == seq {
			w.row = *o
			w.others[i].list = w.others[i].list[1:]
			return &w.row, nil
		}
	}
	var first *cursor
	var best *block.Row
	var ruined *cursor
	for _, c := range w.cursors {
		p, err := c.peek(ctx)
		switch {
		case c.ruin != nil:
			if ruined == nil || c.ruinAt < ruined.ruinAt {
				ruined = c
			}
		case err != nil:
			return nil, err
		case p != nil && (best == nil || p.At < best.At || p.At == best.At && p.Tie < best.Tie):
			first, best = c, p
		}
	}
	if ruined != nil && (best == nil || ruined.ruinAt <= best.At) {
		return nil, ruined.ruin // all that lies before it has been read
	}
	if best == nil {
		return nil, fmt.Errorf("%w: record %d is missing", block.ErrCorrupt, seq)
	}
	w.row = row{seq: seq, at: best.At, kind: kindReading, reading: best.Reading(first.key.name, first.key.quantity), channel: first.id}
	first.i++
	return &w.row, nil
}

// others reads items or transitions ahead.
type others struct {
	kind  byte
	query string
	list  []row
	upto  int64 // number of the last one read; all of them are, when ended
	ended bool
}

func (o *others) peek(ctx context.Context, r *reader) (*row, error) {
	if len(o.list) == 0 && !o.ended {
		o.list = nil
		err := each(ctx, r.db, o.query, []any{o.upto}, func(scan func(...any) error) error {
			it := row{kind: o.kind}
			err := scan(&it.seq, &it.at, &it.name, &it.body)
			o.list = append(o.list, it)
			return err
		})
		if err != nil {
			return nil, err
		}
		if o.ended = len(o.list) == 0; !o.ended {
			o.upto = o.list[len(o.list)-1].seq
		}
	}
	if len(o.list) == 0 {
		return nil, nil
	}
	return &o.list[0], nil
}
