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
