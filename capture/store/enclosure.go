package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"

	"steadyrail/capture"
)

// Errors of enclosures that callers decide by.
var (
	// ErrNoEnclosure is wrapped when the file has no content of that hash.
	ErrNoEnclosure = errors.New("no such picture or sound")
	// ErrErased is wrapped when it was there and was erased.
	ErrErased = errors.New("erased")
)

// task is something that the goroutine that writes does between two commits.
type task struct {
	do   func(*sql.DB) error
	done chan error
}

// task has the writer do something, and waits. Once begun it is not given up.
func (j *Job) task(ctx context.Context, do func(*sql.DB) error) error {
	if j.w == nil {
		return ErrReadOnly
	}
	t := task{do, make(chan error, 1)}
	select {
	case j.w.tasks <- t:
		return <-t.done
	case <-j.w.stop:
		return ErrClosed
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Hasten has what was consumed committed at once, and does not wait for it.
func (j *Job) Hasten() {
	if j.w != nil {
		j.w.nudge()
	}
}

// Enclose keeps the content of a picture or sound and returns its hash, in
// hexadecimal. It is on the disk when Enclose returns, and belongs to nothing
// until an act names it ([capture.Enclosure]): the act comes second, so that none
// ever names what a power cut took. The same content is kept once. Readings wait in memory
// meanwhile; none is lost.
func (j *Job) Enclose(ctx context.Context, data []byte) (string, error) {
	sum := sha256.Sum256(data)
	err := j.task(ctx, func(db *sql.DB) error {
		_, err := db.Exec("INSERT OR IGNORE INTO enclosure (hash, data) VALUES (?, ?)", sum[:], data)
		return err
	})
	return hex.EncodeToString(sum[:]), j.wrap("enclose a picture or sound in", err)
}

// Unenclose takes a content out of the file, for privacy. The act that says so
// ([capture.ActErase]) must be durable before: an act without its content is
// damage. What stood there is overwritten with zeros; what a disk or a backup
// still holds is beyond reach.
func (j *Job) Unenclose(ctx context.Context, hash string) error {
	erased, err := j.erasures(ctx)
	if err == nil && erased[hash].At == 0 {
		err = fmt.Errorf("no act says that %.12s was erased", hash)
	}
	var sum []byte
	if err == nil {
		sum, err = hex.DecodeString(hash)
	}
	if err == nil {
		err = j.task(ctx, func(db *sql.DB) error {
			_, err := db.Exec("PRAGMA secure_delete = ON; DELETE FROM enclosure WHERE hash = ?; PRAGMA secure_delete = OFF", sum)
			if err == nil { // the log before the file holds it too
				_, err = db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
			}
			return err
		})
	}
	return j.wrap("erase a picture or sound of", err)
}

// Enclosure returns the content of a hash. It is compared with the hash. The
// error wraps [ErrNoEnclosure], [ErrErased] or [ErrBroken].
func (j *Job) Enclosure(ctx context.Context, hash string) ([]byte, error) {
	data, err := j.enclosure(ctx, hash)
	return data, j.wrap("read a picture or sound of", err)
}

func (j *Job) enclosure(ctx context.Context, hash string) ([]byte, error) {
	want, err := hex.DecodeString(hash)
	if err != nil || len(want) != sha256.Size {
		return nil, fmt.Errorf("%w: %.80q is no hash", ErrNoEnclosure, hash)
	}
	if j.plain {
		return nil, fmt.Errorf("%w: the file is of a format that holds none", ErrNoEnclosure)
	}
	var data []byte
	err = j.r.db.QueryRowContext(ctx, "SELECT data FROM enclosure WHERE hash = ?", want).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		// The erasure is durable before the content goes: looked for behind it, it is found.
		erased, err := j.erasures(ctx)
		if e, ok := erased[hash]; ok && err == nil {
			return nil, fmt.Errorf("%w at %s: %s", ErrErased, e.At, e.Act.Text)
		}
		return nil, errors.Join(ErrNoEnclosure, err)
	}
	if err == nil && sha256.Sum256(data) != hash32(want) {
		err = fmt.Errorf("%w: its content is not that of its hash %.12s", ErrBroken, hash)
	}
	return data, err
}

func hash32(b []byte) (h hash) {
	copy(h[:], b)
	return h
}

// Enclosed is a picture or sound as the record has it.
type Enclosed struct {
	At     capture.Instant // of its record
	Act    capture.Act
	What   capture.Enclosure
	Erased capture.Instant // 0: it is kept
	Why    string          // it was erased
	Still  bool            // it was erased by the record, and the file holds it all the same
}

// Enclosures lists what the record names, in order, and looks at each: the error
// wraps [ErrBroken] when a content is missing that nobody erased, or is another.
func (j *Job) Enclosures(ctx context.Context) ([]Enclosed, error) {
	list, err := j.enclosures(ctx)
	return list, j.wrap("read the pictures and sounds of", err)
}

func (j *Job) enclosures(ctx context.Context) (out []Enclosed, err error) {
	err = j.acts(ctx, func(at capture.Instant, a capture.Act) {
		if e, ok := a.Enclosure(); ok {
			out = append(out, Enclosed{At: at, Act: a, What: e})
		}
	})
	if err != nil || len(out) == 0 {
		return out, err
	}
	erased, err := j.erasures(ctx)
	if err != nil {
		return out, err
	}
	for i := range out {
		e := &out[i]
		gone := erased[e.What.Hash]
		e.Erased, e.Why = gone.At, gone.Act.Text
		_, err := j.enclosure(ctx, e.What.Hash)
		switch {
		case err == nil:
			e.Still = e.Erased != 0
		case errors.Is(err, ErrErased):
			if e.Erased == 0 { // meanwhile
				erased, err := j.erasures(ctx)
				if err != nil {
					return out, err
				}
				e.Erased, e.Why = erased[e.What.Hash].At, erased[e.What.Hash].Act.Text
			}
		case errors.Is(err, ErrNoEnclosure):
			return out, fmt.Errorf("%w: the %s of %s (%s) is missing, and nothing in the record says that it was erased", ErrBroken, e.Act.Verb, e.At, e.Act.Subject)
		default:
			return out, fmt.Errorf("the %s of %s (%s): %w", e.Act.Verb, e.At, e.Act.Subject, err)
		}
	}
	return out, nil
}

type erasure struct {
	At  capture.Instant
	Act capture.Act
}

// erasures finds what was erased, and not taken in anew since.
func (j *Job) erasures(ctx context.Context) (map[string]erasure, error) {
	out := map[string]erasure{}
	err := j.acts(ctx, func(at capture.Instant, a capture.Act) {
		if e, ok := a.Enclosure(); ok {
			delete(out, e.Hash)
		}
		if a.Verb == capture.ActErase {
			out[a.Subject] = erasure{at, a}
		}
	})
	return out, err
}

// acts calls f with each act of the record.
func (j *Job) acts(ctx context.Context, f func(capture.Instant, capture.Act)) error {
	return each(ctx, j.r.db, "SELECT at, body FROM item WHERE kind = 'act' ORDER BY seq", nil, func(scan func(...any) error) error {
		var at int64
		var body string
		if err := scan(&at, &body); err != nil {
			return err
		}
		item, err := decodeItem("act", body)
		if a, ok := item.(capture.Act); ok {
			f(capture.Instant(at), a)
		}
		return err
	})
}

// enclosures looks at what the acts of a verified record name.
func (v *verifier) enclosures(ctx context.Context) error {
	_, err := (&Job{id: v.job, r: v.r, plain: v.plain}).enclosures(ctx)
	if err != nil {
		return v.failed(v.last, err)
	}
	return nil
}
