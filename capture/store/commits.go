package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// foldBefore returns the newest commit of the last row of table fold in front
// of commit n; the zero seal when there is none.
func foldBefore(ctx context.Context, q querier, n int64) (s seal, err error) {
	const query = "SELECT n, last, upto, ties FROM fold WHERE n < ? ORDER BY n DESC LIMIT 1"
	err = q.QueryRowContext(ctx, query, n).Scan(&s.n, &s.last, &s.upto, &s.ties)
	if errors.Is(err, sql.ErrNoRows) {
		return seal{}, nil
	}
	return s, err
}

// onlyEnd is what a row of table fold says of its newest commit.
func (s seal) onlyEnd() seal {
	s.first = 0
	return s
}

// sealed is a commit as the file tells of it.
type sealed struct {
	seal
	rule int
	hash *hash // nil where the file does not keep it
}

// commits calls f for the commits from number from on, in order. No
// transaction is open while f runs.
func (r *reader) commits(ctx context.Context, s *snapshot, from int64, f func(sealed) error) error {
	before, err := foldBefore(ctx, r.db, from)
	if err != nil {
		return err
	}
	for before.n < s.folded.n {
		list, err := r.fold(ctx, before)
		if err != nil {
			return err
		}
		for _, c := range list {
			if c.n >= from {
				if err := f(c); err != nil {
					return err
				}
			}
		}
		before = list[len(list)-1].seal
	}
	for _, c := range s.tail {
		if c.n >= from {
			if err := f(c); err != nil {
				return err
			}
		}
	}
	return nil
}

// fold returns the commits of the row of table fold that follows on one.
func (r *reader) fold(ctx context.Context, before seal) ([]sealed, error) {
	var own seal
	var rule int
	var sum, data []byte
	err := r.db.QueryRowContext(ctx, "SELECT n, last, upto, ties, rule, hash, data FROM fold WHERE n > ? ORDER BY n LIMIT 1", before.n).
		Scan(&own.n, &own.last, &own.upto, &own.ties, &rule, &sum, &data)
	if err != nil {
		return nil, fmt.Errorf("find what follows on commit %d: %w", before.n, err)
	}
	h, err := asHash(sum, own.n)
	if err != nil {
		return nil, err
	}
	list, err := seals(data, before)
	if err != nil {
		return nil, err
	}
	own.mark = markOf(h)
	if len(list) == 0 || list[len(list)-1].onlyEnd() != own {
		return nil, fmt.Errorf("%w: the list of the commits %d to %d", block.ErrCorrupt, before.n+1, own.n)
	}
	out := make([]sealed, len(list))
	for i, c := range list {
		out[i] = sealed{seal: c, rule: rule}
	}
	out[len(out)-1].hash = &h
	return out, nil
}

// errEnough ends a walk that has found what it wanted.
var errEnough = errors.New("enough")

// commitAt returns the first commit that is complete up to t or later, and the
// one before it: every record answered before t lies in it or in front of it.
// When there is none, it returns the newest twice.
func (r *reader) commitAt(ctx context.Context, s *snapshot, t capture.Instant) (before, c seal, err error) {
	before, c = s.newest, s.newest
	if t > s.newest.upto || s.newest.n == 0 {
		return before, c, nil
	}
	from := s.folded
	if t <= s.folded.upto {
		var n int64
		if err := r.db.QueryRowContext(ctx, "SELECT n FROM fold WHERE upto >= ? ORDER BY upto, n LIMIT 1", int64(t)).Scan(&n); err != nil {
			return before, c, fmt.Errorf("find the commit of %s: %w", t, err)
		}
		if from, err = foldBefore(ctx, r.db, n); err != nil {
			return before, c, err
		}
	}
	before = from
	err = r.commits(ctx, s, from.n+1, func(one sealed) error {
		if one.upto >= t {
			c = one.seal
			return errEnough
		}
		before = one.seal
		return nil
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return before, c, err
}
