package store

import (
	"context"
	"errors"
	"fmt"

	"steadyrail/capture"
)

// ErrBroken is wrapped when a file's rows do not give the hashes it holds.
var ErrBroken = errors.New("the record was changed or damaged")

// BrokenError says where the chain first breaks. It wraps [ErrBroken].
type BrokenError struct {
	Job      string
	Commit   int64           // number of the first commit that does not match
	From, To capture.Instant // between these instants; everything before From is unchanged
	Why      string
}

// Error says it in a sentence.
func (e *BrokenError) Error() string {
	return fmt.Sprintf("job %s: %v: commit %d, answered between %s and %s: %s", e.Job, ErrBroken, e.Commit, e.From, e.To, e.Why)
}

// Unwrap returns [ErrBroken].
func (e *BrokenError) Unwrap() error { return ErrBroken }

// Verify computes the hash chain again from the stored rows, and the cells that
// were derived from them, and returns the head that it arrives at. A
// *[BrokenError] names the first commit that does not match. It says that the
// record is unchanged since a head was printed somewhere else; it cannot say
// that the record is true. It may run while the job is being written; it then
// covers what was committed when it began.
func (j *Job) Verify(ctx context.Context) (capture.Head, error) {
	newest, want, err := j.r.lastSeal(ctx)
	if err != nil {
		return capture.Head{}, j.wrap("verify", err)
	}
	// A reader of its own: what another has cached must not be believed.
	v := &verifier{r: &reader{db: j.r.db}, job: j.id, newest: newest, cells: cells{}}
	if err := v.structure(ctx); err != nil {
		return capture.Head{}, err
	}
	for n := int64(1); n <= newest.n; n += sealsAtOnce {
		if err := v.commits(ctx, n, min(n+sealsAtOnce-1, newest.n)); err != nil {
			return capture.Head{}, err
		}
	}
	if err := v.rest(ctx); err != nil {
		return capture.Head{}, err
	}
	return j.headOf(ctx, newest, want)
}

const sealsAtOnce = 512

// verifier walks the commits of a file.
type verifier struct {
	r      *reader
	job    string
	newest seal
	last   seal // the commit before
	head   hash
	buf    canon
	at     capture.Instant // of the record before
	cells  cells
	ids    map[channelKey]int64
}

func (v *verifier) broken(s seal, why string, args ...any) error {
	return &BrokenError{Job: v.job, Commit: s.n, From: v.last.upto, To: s.upto, Why: fmt.Sprintf(why, args...)}
}

// failed tells a ruined page from an error that has nothing to do with the
// file.
func (v *verifier) failed(s seal, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return v.broken(s, "%v", err)
}

// structure asks SQLite whether the file hangs together.
func (v *verifier) structure(ctx context.Context) error {
	var result string
	if err := v.r.db.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&result); err != nil {
		return v.failed(v.newest, err)
	}
	if result != "ok" {
		return v.broken(v.newest, "the file is damaged: %s", result)
	}
	return nil
}

// commits verifies the commits from and to and those between.
func (v *verifier) commits(ctx context.Context, from, to int64) error {
	next := v.last
	next.n++
	var seals []seal
	var hashes []hash
	err := v.r.seals(ctx, from, to, func(s seal, h hash) error {
		seals, hashes = append(seals, s), append(hashes, h)
		return nil
	})
	if err != nil {
		return v.failed(next, err)
	}
	for i, s := range seals {
		if err := v.commit(ctx, s, hashes[i]); err != nil {
			return err
		}
		v.last = s
	}
	if v.last.n != to {
		return v.broken(v.last, "commit %d is missing", v.last.n+1)
	}
	return nil
}

// commit verifies one commit.
func (v *verifier) commit(ctx context.Context, s seal, want hash) error {
	if s.n != v.last.n+1 || s.first != v.last.last+1 || s.last < s.first || s.upto < v.last.upto {
		return v.broken(s, "it does not follow on the commit before")
	}
	v.buf.begin(s)
	for first := s.first; first <= s.last; first += sliceWidth {
		last := min(first+sliceWidth-1, s.last)
		rows, err := v.r.rows(ctx, first, last)
		if err != nil {
			return v.failed(s, err)
		}
		if int64(len(rows)) != last-first+1 {
			return v.broken(s, "%d of its records are missing", last-first+1-int64(len(rows)))
		}
		for i := range rows {
			if err := v.row(ctx, s, &rows[i]); err != nil {
				return err
			}
		}
	}
	if v.head = v.buf.link(v.head); v.head != want {
		return v.broken(s, "its hash is not that of its records")
	}
	return v.over(ctx, s)
}

func (v *verifier) row(ctx context.Context, s seal, r *row) error {
	if r.at < v.at || r.at > s.upto {
		return v.broken(s, "record %d is out of order", r.seq)
	}
	v.at = r.at
	switch r.kind {
	case kindItem:
		v.buf.item(r.seq, r.at, r.name, r.body)
	case kindTransition:
		v.buf.transition(r.seq, r.at, r.body)
	default:
		v.buf.reading(r.seq, r.at, &r.reading)
		return v.gather(ctx, s, r)
	}
	return nil
}

// gather builds the cells again.
func (v *verifier) gather(ctx context.Context, s seal, r *row) error {
	key := channelKey{r.reading.Channel, r.reading.Quantity}
	id, ok := v.ids[key]
	if !ok {
		var err error
		if v.ids, err = channelNumbers(ctx, v.r); err != nil {
			return v.failed(s, err)
		}
		id = v.ids[key]
	}
	if ended, ok := v.cells.add(id, r.seq, r.at, r.reading.Value, r.reading.Flags); ok {
		return v.cell(ctx, s, id, ended)
	}
	return nil
}

// over compares the cells that a commit ended.
func (v *verifier) over(ctx context.Context, s seal) error {
	for id, c := range v.cells.over(s.upto) {
		if err := v.cell(ctx, s, id, c); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) cell(ctx context.Context, s seal, id int64, want openCell) error {
	var got sum
	err := v.r.db.QueryRowContext(ctx, "SELECT n, bad, min, max, sum, last, last_at, last_seq FROM cell WHERE channel = ? AND start = ?", id, int64(want.start)).
		Scan(&got.n, &got.bad, (*exact)(&got.min), (*exact)(&got.max), (*exact)(&got.total), (*exact)(&got.last), &got.lastAt, &got.lastSeq)
	if err != nil {
		return v.failed(s, fmt.Errorf("the summary of channel %d at %s: %w", id, want.start, err))
	}
	if got != want.sum && got.total == got.total {
		return v.broken(s, "the summary of channel %d at %s does not match its readings", id, want.start)
	}
	return nil
}

// rest looks for rows that no commit covers.
func (v *verifier) rest(ctx context.Context) error {
	const query = "SELECT (SELECT count(*) FROM reading WHERE seq <= ?1) + (SELECT count(*) FROM item WHERE seq <= ?1) + (SELECT count(*) FROM transition WHERE seq <= ?1)"
	var n int64
	if err := v.r.db.QueryRowContext(ctx, query, v.newest.last).Scan(&n); err != nil {
		return v.failed(v.newest, err)
	}
	if n != v.newest.last {
		return v.broken(v.newest, "the file has %d records where its commits cover %d", n, v.newest.last)
	}
	return nil
}

// channelNumbers returns the channels' numbers in the file.
func channelNumbers(ctx context.Context, r *reader) (map[channelKey]int64, error) {
	byID, err := readChannels(ctx, r)
	if err != nil {
		return nil, err
	}
	out := make(map[channelKey]int64, len(byID))
	for id, key := range byID {
		out[key] = id
	}
	return out, nil
}
