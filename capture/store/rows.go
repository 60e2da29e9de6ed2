package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
)

// row is a logical record as it stands in the file.
type row struct {
	seq        int64
	at         capture.Instant
	kind       byte            // kindReading, kindItem, kindTransition
	reading    capture.Reading // of kindReading
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

// sliceWidth is how many records one read takes. Reading them lasts some tens
// of milliseconds; no transaction stays open between slices.
const sliceWidth = 8192

// reader reads a file. It is safe for concurrent use.
type reader struct {
	db       *sql.DB
	mu       sync.Mutex
	channels map[int64]channelKey
}

// rows reads the records first to last in order. Records are never changed, so
// three queries need no common transaction.
func (r *reader) rows(ctx context.Context, first, last int64) ([]row, error) {
	out := make([]row, 0, min(last-first+1, sliceWidth))
	out, err := r.readings(ctx, first, last, out)
	if err != nil {
		return nil, err
	}
	readings := len(out)
	for kind, query := range map[byte]string{
		kindItem:       "SELECT seq, at, kind, body FROM item WHERE seq BETWEEN ? AND ?",
		kindTransition: "SELECT seq, at, '', body FROM transition WHERE seq BETWEEN ? AND ?",
	} {
		err := r.each(ctx, query, []any{first, last}, func(scan func(...any) error) error {
			it := row{kind: kind}
			err := scan(&it.seq, &it.at, &it.name, &it.body)
			out = append(out, it)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if len(out) > readings {
		slices.SortFunc(out, func(a, b row) int { return cmp.Compare(a.seq, b.seq) })
	}
	return out, nil
}

func (r *reader) readings(ctx context.Context, first, last int64, out []row) ([]row, error) {
	const query = "SELECT seq, at, channel, value, text, resolution, range, flags, measured, half_width, ordinal FROM reading WHERE seq BETWEEN ? AND ? ORDER BY seq"
	var keys map[int64]channelKey
	err := r.each(ctx, query, []any{first, last}, func(scan func(...any) error) error {
		var it = row{kind: kindReading}
		var channel, ordinal, half int64
		g := &it.reading
		err := scan(&it.seq, &it.at, &channel, (*exact)(&g.Value), &g.Text, (*exact)(&g.Resolution), (*exact)(&g.Range), &g.Flags, &g.Measured, &half, &ordinal)
		if err != nil {
			return err
		}
		g.HalfWidth, g.Ordinal = time.Duration(half), uint64(ordinal)
		key, ok := keys[channel]
		if !ok {
			if keys, err = r.channelKeys(ctx, channel); err != nil {
				return err
			}
			key = keys[channel]
		}
		g.Channel, g.Quantity = key.name, key.quantity
		out = append(out, it)
		return nil
	})
	return out, err
}

// each runs a query and calls f for each row.
func (r *reader) each(ctx context.Context, query string, args []any, f func(scan func(...any) error) error) error {
	rows, err := r.db.QueryContext(ctx, query, args...)
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

// channelKeys returns the channels by number, with the wanted one among them.
// The map is not changed any more.
func (r *reader) channelKeys(ctx context.Context, want int64) (map[int64]channelKey, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, ok := r.channels[want]; ok {
		return r.channels, nil
	}
	fresh, err := readChannels(ctx, r)
	if err != nil {
		return nil, err
	}
	if _, ok := fresh[want]; !ok && want != 0 {
		return nil, fmt.Errorf("a reading of channel number %d, which the file does not name", want)
	}
	r.channels = fresh
	return fresh, nil
}

func readChannels(ctx context.Context, r *reader) (map[int64]channelKey, error) {
	out := map[int64]channelKey{}
	err := r.each(ctx, "SELECT id, name, quantity FROM channel", nil, func(scan func(...any) error) error {
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

// seals reads rows of table sealed with numbers in [from, to].
func (r *reader) seals(ctx context.Context, from, to int64, f func(seal, hash) error) error {
	return r.each(ctx, "SELECT n, first, last, upto, hash FROM sealed WHERE n BETWEEN ? AND ? ORDER BY n", []any{from, to}, func(scan func(...any) error) error {
		var s seal
		var sum []byte
		if err := scan(&s.n, &s.first, &s.last, &s.upto, &sum); err != nil {
			return err
		}
		var h hash
		if copy(h[:], sum) != len(h) || len(sum) != len(h) {
			return fmt.Errorf("commit %d has a hash of %d bytes", s.n, len(sum))
		}
		return f(s, h)
	})
}

// lastSeal returns the newest commit; n is 0 when there is none.
func (r *reader) lastSeal(ctx context.Context) (s seal, h hash, err error) {
	var n sql.NullInt64
	if err := r.db.QueryRowContext(ctx, "SELECT max(n) FROM sealed").Scan(&n); err != nil || !n.Valid {
		return s, h, err
	}
	err = r.seals(ctx, n.Int64, n.Int64, func(got seal, sum hash) error { s, h = got, sum; return nil })
	return s, h, err
}

// commitAt returns the first commit that is complete up to t or later, by
// bisection: every record answered before t lies in it or in front of it. When
// there is none it returns an empty one behind the newest.
func (r *reader) commitAt(ctx context.Context, t capture.Instant, newest seal) (seal, error) {
	lo, hi := int64(1), newest.n+1
	for lo < hi {
		mid := lo + (hi-lo)/2
		var upto capture.Instant
		if err := r.db.QueryRowContext(ctx, "SELECT upto FROM sealed WHERE n = ?", mid).Scan(&upto); err != nil {
			return seal{}, fmt.Errorf("find commit %d: %w", mid, err)
		}
		if upto >= t {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	s := seal{n: lo, first: newest.last + 1, last: newest.last}
	err := r.seals(ctx, lo, min(lo, newest.n), func(got seal, _ hash) error { s = got; return nil })
	return s, err
}

// firstAt returns the number of the first record that can have been answered
// at or after t.
func (r *reader) firstAt(ctx context.Context, t capture.Instant, newest seal) (int64, error) {
	s, err := r.commitAt(ctx, t, newest)
	return s.first, err
}
