package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// lastBlock returns how many full blocks a channel has and how many readings
// are in them.
func lastBlock(ctx context.Context, q querier, channel int64) (blocks, readings int64, err error) {
	const query = "SELECT id, base + n FROM brief WHERE id >= ? AND id < ? ORDER BY id DESC LIMIT 1"
	var id int64
	err = q.QueryRowContext(ctx, query, blockNumber(channel, 0), blockNumber(channel+1, 0)).Scan(&id, &readings)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, 0, nil
	}
	return id&(1<<32-1) + 1, readings, err
}

func (s *snapshot) readFolded(ctx context.Context, q querier) error {
	const query = "SELECT n, last, upto, ties, hash, tree FROM fold WHERE n = (SELECT max(n) FROM fold)"
	return each(ctx, q, query, nil, func(scan func(...any) error) error {
		var sum []byte
		f := &s.folded
		err := scan(&f.n, &f.last, &f.upto, &f.ties, &sum, &s.foldTree)
		if err == nil {
			s.foldHead, err = asHash(sum, f.n)
			f.mark = markOf(s.foldHead)
		}
		s.newest, s.head = s.folded, s.foldHead
		return err
	})
}

// mostWaiting bounds what a ruined file makes a reader keep in memory: no bench
// has so many channels that wait for a full block.
const mostWaiting = 4 << 20

// farthest bounds the instants of a file: 73,000 years either way.
const farthest = capture.Instant(1) << 61

// readWaiting reads the readings that are in no full block yet: those of
// folded commits, then those of the tail.
func (s *snapshot) readWaiting(ctx context.Context, q querier) error {
	var d block.Decoder
	waiting := 0
	take := func(c chunk) error {
		f, ok := s.filling[c.channel]
		if !ok {
			return fmt.Errorf("readings of channel number %d, which the file does not name", c.channel)
		}
		n, err := block.Count(c.data)
		if err != nil || c.base+int64(n) <= f.base+int64(len(f.rows)) {
			return err // in a block, or known, already
		}
		if waiting += n; waiting > mostWaiting || len(f.rows) > block.MaxRows {
			return fmt.Errorf("%w: more readings wait for a block than can", block.ErrCorrupt)
		}
		rows, err := d.Rows(nil, c.data)
		if err != nil {
			return err
		}
		err = f.add(c.base, rows)
		s.filling[c.channel] = f
		return err
	}
	err := each(ctx, q, "SELECT channel, base, data FROM rest ORDER BY channel", nil, func(scan func(...any) error) error {
		var c chunk
		if err := scan(&c.channel, &c.base, &c.data); err != nil {
			return err
		}
		return take(c)
	})
	if err != nil {
		return fmt.Errorf("readings that wait for a block: %w", err)
	}
	query, err := tailQuery(ctx, q)
	if err != nil {
		return err
	}
	return each(ctx, q, query, nil, func(scan func(...any) error) error {
		var one seal
		var rule int
		var sum, data []byte
		if err := scan(&one.n, &rule, &one.first, &one.last, &one.upto, &one.ties, &sum, &data); err != nil {
			return err
		}
		h, err := asHash(sum, one.n)
		if err != nil {
			return err
		}
		one.mark = markOf(h)
		s.tail = append(s.tail, sealed{one, rule, &h})
		s.newest, s.head = one, h
		runs, err := chunks(data)
		for _, c := range runs {
			if err == nil {
				err = take(c)
			}
		}
		if err != nil {
			return &commitError{one, err}
		}
		return nil
	})
}

// tailQuery reads the commits of the tail, whose rule formats 2 and 3 do not say.
func tailQuery(ctx context.Context, q querier) (string, error) {
	var format int
	if err := q.QueryRowContext(ctx, "SELECT user_version FROM pragma_user_version").Scan(&format); err != nil {
		return "", err
	}
	rule := "rule"
	if format < formatRuns {
		rule = strconv.Itoa(ruleTree)
	}
	return "SELECT n, " + rule + ", first, last, upto, ties, hash, data FROM tail ORDER BY n", nil
}
