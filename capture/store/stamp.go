package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"steadyrail/capture/store/timestamp"
)

// Stamp is what a time-stamp authority answered about a head (RFC 3161). It
// stands beside the log, not in it: no hash covers it, and whoever has the file
// can take it out. What it proves, see package timestamp.
type Stamp struct {
	Commit    int64
	Head      string // lower-case hexadecimal
	Request   []byte // TimeStampReq, DER, as it was sent; its digest is the head
	Response  []byte // TimeStampResp, DER, as it came
	Authority string // address that was asked
}

// Request returns a new request to have a commit's head stamped. Errors are those
// of the system's generator of random numbers.
func (c Commit) Request() (timestamp.Request, error) {
	var digest hash
	if _, err := hex.Decode(digest[:], []byte(c.Head.Hash)); err != nil {
		return timestamp.Request{}, fmt.Errorf("stamp the head %q: %w", c.Head.Hash, err)
	}
	return timestamp.NewRequest(digest, nil)
}

// Token reads what the authority stated and compares it with the head. The
// signature is not checked: see [timestamp.Token.VerifySignature].
func (s Stamp) Token() (timestamp.Token, error) {
	request, err := timestamp.ParseRequest(s.Request)
	if err != nil {
		return timestamp.Token{}, err
	}
	if digest := request.Digest(); hex.EncodeToString(digest[:]) != s.Head {
		return timestamp.Token{}, fmt.Errorf("%w: it was asked for about another head", timestamp.ErrMismatch)
	}
	return timestamp.Read(s.Request, s.Response)
}

// Stamps returns the stamps of the job, oldest first, as they are kept: not
// checked.
func (j *Job) Stamps(ctx context.Context) (out []Stamp, err error) {
	err = each(ctx, j.r.db, "SELECT n, head, request, response, authority FROM stamp ORDER BY id", nil, func(scan func(...any) error) error {
		var s Stamp
		var head []byte
		err := scan(&s.Commit, &head, &s.Request, &s.Response, &s.Authority)
		s.Head = hex.EncodeToString(head)
		out = append(out, s)
		return err
	})
	return out, j.wrap("read the time-stamps of", err)
}

// Free reports whether a stamp could be added now: the error wraps [ErrHeld] when
// somebody holds the workspace that the file lies in.
func (j *Job) Free() error {
	if j.w != nil {
		return j.wrap("stamp", errors.New("it is being written; close it first"))
	}
	held, err := hold(j.path)
	if err == nil {
		err = held.release()
	}
	return j.wrap("stamp", err)
}

// AddStamp keeps a stamp in the file of a job that was opened with [OpenFile]
// and that nobody writes: the workspace it lies in, if it does, must be free (the
// error wraps [ErrHeld]). Commit and head are those of a [Commit] that
// [Job.Heads] found. The log and its hashes stay what they were. It is on the
// disk when AddStamp returns.
func (j *Job) AddStamp(ctx context.Context, s Stamp) error {
	if _, err := s.Token(); err != nil {
		return j.wrap("stamp", err)
	}
	if err := j.Free(); err != nil {
		return err
	}
	return j.wrap("stamp", j.addStamp(ctx, s))
}

func (j *Job) addStamp(ctx context.Context, s Stamp) (err error) {
	held, err := hold(j.path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, held.release()) }()
	head, err := hex.DecodeString(s.Head)
	if err != nil {
		return err
	}
	// The journal mode stays: a file that is closed for good has no log beside it.
	path, err := filepath.Abs(j.path)
	if err != nil {
		return err
	}
	db, err := sql.Open("sqlite", dsn(path, "mode=rw", "_busy_timeout=5000", "_txlock=immediate"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	// EXTRA also waits until the journal is gone from the folder (sqlite.org/pragma.html#pragma_synchronous).
	if _, err := db.ExecContext(ctx, "PRAGMA synchronous = EXTRA"); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "INSERT INTO stamp (n, head, request, response, authority) VALUES (?, ?, ?, ?, ?)",
		s.Commit, head, s.Request, s.Response, s.Authority)
	return err
}

// hold takes the lock of the workspace that a job file lies in. A file anywhere
// else has none, and release does nothing.
func hold(path string) (*lock, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	folder := filepath.Dir(abs)
	dir := filepath.Dir(folder)
	if filepath.Base(folder) != "jobs" || !fileExists(filepath.Join(dir, lockName)) {
		return &lock{}, nil
	}
	return takeLock(dir, Holder{PID: os.Getpid()})
}
