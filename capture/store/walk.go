package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"

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

// cursor stands in the readings of one channel.
type cursor struct {
	r       *reader
	id      int64
	key     channelKey
	filling filling
	k       int64 // block that is read next
	rows    []block.Row
	i       int
	atEnd   bool            // the readings that wait for a block are in rows
	ruin    error           // why the next block cannot be read
	ruinAt  capture.Instant // where it begins
	decoder block.Decoder
}

// peek returns the reading that the cursor stands at; nil behind the last.
func (c *cursor) peek(ctx context.Context) (*block.Row, error) {
	for c.i >= len(c.rows) {
		switch {
		case c.ruin != nil:
			return nil, c.ruin
		case c.k < c.filling.blocks:
			if err := c.load(ctx); err != nil {
				return nil, c.ruined(ctx, err)
			}
		case c.atEnd:
			return nil, nil
		default:
			c.rows, c.i, c.atEnd = c.filling.rows, 0, true
		}
	}
	return &c.rows[c.i], nil
}

// ruined keeps the error of a block that cannot be read, and where the block
// begins, as its summary says: what lies before can still be read.
func (c *cursor) ruined(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return err
	}
	c.ruin = err
	const query = "SELECT first_at FROM brief WHERE id = ?"
	if c.r.db.QueryRowContext(ctx, query, blockNumber(c.id, c.k)).Scan(&c.ruinAt) != nil {
		c.ruinAt = math.MinInt64
	}
	return err
}

// load reads the next block.
func (c *cursor) load(ctx context.Context) error {
	data, err := c.r.block(ctx, blockNumber(c.id, c.k))
	if err != nil {
		return err
	}
	if c.rows, err = c.decoder.Rows(c.rows[:0], data); err != nil {
		return fmt.Errorf("block %d of %s: %w", c.k, c.key.name, err)
	}
	c.k++
	c.i = 0
	return nil
}

func (r *reader) block(ctx context.Context, id int64) (data []byte, err error) {
	if err = r.db.QueryRowContext(ctx, "SELECT data FROM block WHERE id = ?", id).Scan(&data); err != nil {
		err = fmt.Errorf("block %d of channel %d: %w", id&math.MaxUint32, id>>32, err)
	}
	return data, err
}

// seek puts the cursor at the first reading behind a border.
func (c *cursor) seek(ctx context.Context, b border) (err error) {
	if c.k, err = c.r.firstBlock(ctx, c.id, c.filling.blocks, b.at); err != nil {
		return err
	}
	for {
		p, err := c.peek(ctx)
		if err != nil || p == nil || p.At > b.at || p.At == b.at && p.Tie >= b.tie {
			return err
		}
		c.i++
	}
}

// firstBlock returns the number of the first of n blocks of a channel whose last
// reading was answered at t or later, by bisection.
func (r *reader) firstBlock(ctx context.Context, channel, n int64, t capture.Instant) (int64, error) {
	lo, hi := int64(0), n
	for lo < hi {
		mid := lo + (hi-lo)/2
		var last capture.Instant
		err := r.db.QueryRowContext(ctx, "SELECT last_at FROM brief WHERE id = ?", blockNumber(channel, mid)).Scan(&last)
		if errors.Is(err, sql.ErrNoRows) {
			err = fmt.Errorf("%w: it has no summary", block.ErrCorrupt)
		}
		if err != nil {
			return 0, fmt.Errorf("find block %d of channel %d: %w", mid, channel, err)
		}
		if last >= t {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo, nil
}
