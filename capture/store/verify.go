package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
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

// Verify computes the hash chain again from the stored records, and the
// summaries that were derived from them, and returns the head that it arrives
// at. A *[BrokenError] names the first commit that does not match. It says that
// the record is unchanged since a head was printed somewhere else; it cannot say
// that the record is true. It may run while the job is being written; it then
// covers what was committed when it began.
func (j *Job) Verify(ctx context.Context) (capture.Head, error) {
	var head capture.Head
	err := j.verify(ctx, func(h capture.Head) { head = h })
	if err == nil && head.Hash == "" {
		return j.Head(ctx) // of an empty job
	}
	return head, err
}

// verify tells the head after each commit.
func (j *Job) verify(ctx context.Context, told func(capture.Head)) error {
	// A reader of its own: what another has cached must not be believed.
	v := &verifier{r: &reader{db: j.r.db}, job: j.id, told: told, plain: j.plain}
	structure := v.structure(ctx)
	err := v.all(ctx)
	if err == nil && structure != nil { // nothing that a commit covers
		return v.broken(v.last, "%v", structure)
	}
	return err
}

// all verifies the commits, and what is derived from them.
func (v *verifier) all(ctx context.Context) (err error) {
	if v.snap, err = v.r.now(ctx); err != nil {
		return v.unreadable(ctx, err)
	}
	if v.walk, err = v.r.walkFrom(ctx, v.snap, seal{}); err != nil {
		return v.unreadable(ctx, err)
	}
	var own *BrokenError
	err = v.r.commits(ctx, v.snap, 1, func(c sealed) error { return v.commit(ctx, c) })
	if errors.As(err, &own) {
		return err
	}
	if err != nil {
		return v.failed(v.last.next(1), err)
	}
	if err := v.rest(ctx); err != nil {
		return err
	}
	if err := v.summaries(ctx); err != nil {
		return err
	}
	return v.enclosures(ctx)
}

// unreadable is broken before the first commit could be looked at: the newest
// readings cannot be put together. The commit is the one whose row is ruined, or
// the first that may be.
func (v *verifier) unreadable(ctx context.Context, err error) error {
	at := seal{n: 1}
	if newest, _, e := newestSeal(ctx, v.r.db); e == nil {
		at.upto = newest.upto
	}
	var one *commitError
	if errors.As(err, &one) {
		at = one.seal
	}
	return v.failed(at, err)
}

// verifier walks the commits of a file.
type verifier struct {
	r       *reader
	job     string
	plain   bool // a file of a format without enclosures
	told    func(capture.Head)
	snap    *snapshot
	walk    *walker
	last    seal // the commit before
	binder  binder
	at      capture.Instant // of the record before
	ties    uint32
	counted [kindTransition + 1]int64
	decoder block.Decoder
	points  []block.Point
}

func (v *verifier) broken(s seal, why string, args ...any) error {
	return &BrokenError{Job: v.job, Commit: s.n, From: v.last.upto, To: max(s.upto, v.last.upto), Why: fmt.Sprintf(why, args...)}
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
		return err
	}
	if result != "ok" {
		return fmt.Errorf("the file is damaged: %s", result)
	}
	return nil
}

// commit verifies one commit.
func (v *verifier) commit(ctx context.Context, c sealed) error {
	s := c.seal
	if s.n != v.last.n+1 || s.first != v.last.last+1 || s.last < s.first || s.upto < v.last.upto {
		return v.broken(s, "it does not follow on the commit before")
	}
	if c.rule < ruleRecords || c.rule > ruleRuns {
		return v.broken(s, "there is no rule %d for a commit", c.rule)
	}
	v.binder.begin(c.rule)
	for seq := s.first; seq <= s.last; seq++ {
		if seq%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		r, err := v.walk.next(ctx)
		if err != nil {
			return v.failed(s, err)
		}
		if r == nil {
			return v.broken(s, "record %d is missing", seq)
		}
		if err := v.record(c, r); err != nil {
			return err
		}
	}
	if ties := v.ties; v.at == s.upto && s.ties != ties || v.at != s.upto && s.ties != 0 {
		return v.broken(s, "%d records at its end, not %d", ties, s.ties)
	}
	v.binder.seal(s)
	head := v.binder.chain.head
	if s.mark != markOf(head) || c.hash != nil && head != *c.hash {
		return v.broken(s, "its hash is not that of its records")
	}
	if s.n == v.snap.folded.n {
		if tree, _ := v.binder.chain.tree.MarshalBinary(); !bytes.Equal(tree, v.snap.foldTree) {
			return v.broken(s, "the tree is not that of the records")
		}
	}
	v.last = s
	v.told(capture.Head{Count: uint64(s.last), Last: v.at, Hash: hex.EncodeToString(head[:])})
	return nil
}

func (v *verifier) record(c sealed, r *row) error {
	if r.at < v.at || r.at > c.upto {
		return v.broken(c.seal, "record %d is out of order", r.seq)
	}
	if r.at != v.at {
		v.at, v.ties = r.at, 0
	}
	v.ties++
	v.counted[r.kind]++
	r.canonical(&v.binder.buf)
	v.binder.wrote()
	if r.kind == kindItem && r.name == "sheet" {
		return v.named(c.seal, r)
	}
	return nil
}
