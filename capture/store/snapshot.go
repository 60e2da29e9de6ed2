package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

type channelKey struct {
	name     capture.ChannelID
	quantity capture.Quantity
}

// snapshot is a file as one read transaction sees it, without its full blocks:
// those never change. It is not changed once it is made.
type snapshot struct {
	newest   seal
	head     hash
	folded   seal // newest commit that left the tail
	foldHead hash
	foldTree []byte
	tail     []sealed
	channels map[int64]channelKey
	filling  map[int64]filling // has rows that wait, for every channel
}

// reader reads a file. It is safe for concurrent use.
type reader struct {
	db *sql.DB
	mu sync.Mutex // guards cached
	// cached is what was seen last: most questions come between two commits.
	cached *snapshot
}

// now returns the file as it is.
func (r *reader) now(ctx context.Context) (*snapshot, error) {
	tx, err := r.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer tx.Rollback() // nothing was written
	newest, _, err := newestSeal(ctx, tx)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.cached != nil && r.cached.newest == newest {
		return r.cached, nil
	}
	s, err := readSnapshot(ctx, tx)
	if err != nil {
		return nil, err
	}
	r.cached = s
	return s, nil
}

// querier is a database or a transaction in it.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// each runs a query and calls f for each row.
func each(ctx context.Context, q querier, query string, args []any, f func(scan func(...any) error) error) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// newestSeal returns the newest commit; n is 0 when there is none.
func newestSeal(ctx context.Context, q querier) (s seal, h hash, err error) {
	const query = `SELECT n, first, last, upto, ties, hash FROM tail WHERE n = (SELECT max(n) FROM tail)
		UNION ALL SELECT n, 0, last, upto, ties, hash FROM fold WHERE n = (SELECT max(n) FROM fold) ORDER BY n DESC LIMIT 1`
	var sum []byte
	err = q.QueryRowContext(ctx, query).Scan(&s.n, &s.first, &s.last, &s.upto, &s.ties, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		return seal{}, hash{}, nil
	}
	if err == nil {
		h, err = asHash(sum, s.n)
		s.mark = markOf(h)
	}
	if err == nil && (s.upto > farthest || s.upto < -farthest) {
		err = fmt.Errorf("%w: commit %d is of no time that can be", block.ErrCorrupt, s.n)
	}
	return s, h, err
}

func asHash(sum []byte, n int64) (h hash, err error) {
	if len(sum) != len(h) {
		return h, fmt.Errorf("commit %d has a hash of %d bytes", n, len(sum))
	}
	return hash(sum), nil
}

// readSnapshot reads all that a snapshot holds.
func readSnapshot(ctx context.Context, q querier) (s *snapshot, err error) {
	s = &snapshot{filling: map[int64]filling{}}
	if s.channels, err = readChannels(ctx, q); err != nil {
		return nil, err
	}
	for id := range s.channels {
		var f filling
		f.blocks, f.base, err = lastBlock(ctx, q, id)
		if err != nil {
			return nil, err
		}
		s.filling[id] = f
	}
	if err := s.readFolded(ctx, q); err != nil {
		return nil, err
	}
	if err := s.readWaiting(ctx, q); err != nil {
		return nil, err
	}
	return s, nil
}

// commitError says which commit's row in table tail cannot be read.
type commitError struct {
	seal seal
	err  error
}

func (e *commitError) Error() string { return fmt.Sprintf("commit %d: %v", e.seal.n, e.err) }

func (e *commitError) Unwrap() error { return e.err }

func readChannels(ctx context.Context, q querier) (map[int64]channelKey, error) {
	out := map[int64]channelKey{}
	err := each(ctx, q, "SELECT id, name, quantity FROM channel", nil, func(scan func(...any) error) error {
		var id int64
		var key channelKey
		var quantity string
		if err := scan(&id, &key.name, &quantity); err != nil {
			return err
		}
		err := key.quantity.UnmarshalText([]byte(quantity))
		out[id] = key
		return err
	})
	return out, err
}

// find returns the number of a channel; it has none without readings.
func (s *snapshot) find(want channelKey) (int64, bool) {
	for id, key := range s.channels {
		if key == want {
			return id, true
		}
	}
	return 0, false
}
