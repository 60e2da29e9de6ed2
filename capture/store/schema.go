package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite" // the one database driver, fenced to this package
)

// Errors that callers decide by.
var (
	// ErrNewer is wrapped when a file was written by a later program. The
	// message names the format that is needed.
	ErrNewer = errors.New("file of a newer steadyrail")
	// ErrNotOurs is wrapped when a file is no job file at all.
	ErrNotOurs = errors.New("not a steadyrail file")
	// ErrNoJob is wrapped when the workspace has no job of that name.
	ErrNoJob = errors.New("no such job")
	// ErrExists is wrapped when the workspace has a job of that name already.
	ErrExists = errors.New("job exists already")
	// ErrReadOnly is returned by what would write to a job opened for reading.
	ErrReadOnly = errors.New("job is open for reading only")
	// ErrClosed is returned by a job or workspace after Close.
	ErrClosed = errors.New("closed")
)

//go:embed migrations spec.txt
var embedded embed.FS

// kind is a kind of database file: its mark and its numbered migrations.
type kind struct {
	name     string
	id       int64 // application_id
	pageSize int
	steps    []string                                     // steps[i] leads from format i to i+1
	carry    map[int]func(context.Context, *sql.Tx) error // what a step does behind its statements, by the format it leads to
}

var (
	jobKind = kind{name: "job", id: 0x5352414C, pageSize: 4096, steps: steps("job"), // "SRAL"
		carry: map[int]func(context.Context, *sql.Tx) error{2: carryFormat1}}
	benchKind = kind{name: "bench", id: 0x53524249, pageSize: 4096, steps: steps("bench")} // "SRBI"
)

// steps loads the migrations of a kind in order of their numbers.
func steps(name string) []string {
	dir := "migrations/" + name
	files, err := fs.ReadDir(embedded, dir)
	if err != nil {
		panic(err) // embedded: cannot fail once it was built
	}
	var out []string
	for _, f := range files { // sorted by name
		text, err := embedded.ReadFile(dir + "/" + f.Name())
		if err != nil {
			panic(err)
		}
		out = append(out, string(text))
	}
	return out
}

// dsn builds the driver's name of a file. Every byte that means something in a
// URI is escaped, so that a folder may be called "a?b#c".
func dsn(path string, params ...string) string {
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p // windows: C:/...
	}
	return "file://" + (&url.URL{Path: p}).EscapedPath() + "?" + strings.Join(params, "&")
}

// openWriter opens a file for writing through one connection and checks that
// what durability rests on took effect. The page size must stand before the
// journal mode, or SQLite silently ignores it; the driver sorts what is given
// as _pragma by name and runs it before the keys with names of their own, so
// only the page size may be given as _pragma.
func openWriter(ctx context.Context, path string, k kind) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, "_busy_timeout=5000", fmt.Sprintf("_pragma=page_size(%d)", k.pageSize),
		"_journal_mode=WAL", "_synchronous=FULL", "_txlock=immediate"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	if err := durable(ctx, db); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// durable checks that the write-ahead log and full synchronisation are on.
func durable(ctx context.Context, db *sql.DB) error {
	var mode string
	var sync int
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode").Scan(&mode); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, "PRAGMA synchronous").Scan(&sync); err != nil {
		return err
	}
	if mode != "wal" || sync != 2 {
		return fmt.Errorf("the database does not write durably here (journal mode %s, synchronous %d): use a folder on a local disk", mode, sync)
	}
	return nil
}

// openReader opens a file for reading. A file in write-ahead mode on a medium
// that cannot be written has no room for the shared index; it is then read as
// it stands, which is right as long as nobody writes it.
func openReader(ctx context.Context, path string) (*sql.DB, error) {
	return openFor(ctx, path, "_pragma=query_only(1)")
}

// openFor opens a file that is not to be written with more parameters.
func openFor(ctx context.Context, path string, params ...string) (*sql.DB, error) {
	params = append(params, "mode=ro", "_busy_timeout=5000")
	open := func(extra ...string) (*sql.DB, error) {
		db, err := sql.Open("sqlite", dsn(path, append(extra, params...)...))
		if err != nil {
			return nil, err
		}
		var n int
		if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n); err != nil {
			db.Close()
			return nil, err
		}
		return db, nil
	}
	db, err := open()
	if err != nil && !fileExists(path+"-wal") {
		if db, second := open("immutable=1"); second == nil {
			return db, nil
		}
	}
	return db, err
}

// format returns the format number of an open file: 0 for an empty one.
func (k kind) format(ctx context.Context, db *sql.DB) (int, error) {
	var id int64
	var version, objects int
	err := db.QueryRowContext(ctx, "SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)").
		Scan(&id, &version, &objects)
	if err != nil {
		return 0, notOurs(err)
	}
	switch {
	case id == 0 && version == 0 && objects == 0:
		return 0, nil
	case id != k.id:
		return 0, fmt.Errorf("%w: its mark is %#x, a %s file has %#x", ErrNotOurs, id, k.name, k.id)
	case version > len(k.steps):
		return 0, fmt.Errorf("%w: it has format %d and this program reads up to %d; use the program that wrote it, or a later one", ErrNewer, version, len(k.steps))
	}
	return version, nil
}

// migrate brings a file to the newest format, one transaction a step. With
// copyTo, an older file is first copied there whole.
func (k kind) migrate(ctx context.Context, db *sql.DB, copyTo func(format int) string) error {
	have, err := k.format(ctx, db)
	if err != nil {
		return err
	}
	if have > 0 && have < len(k.steps) && copyTo != nil {
		if err := keepOld(ctx, db, copyTo(have)); err != nil {
			return fmt.Errorf("copy the file before changing its format: %w", err)
		}
	}
	for ; have < len(k.steps); have++ {
		if err := k.step(ctx, db, have); err != nil {
			return fmt.Errorf("change %s file from format %d to %d: %w", k.name, have, have+1, err)
		}
	}
	return nil
}

// keepOld copies a file that is to be changed. A copy that is there already is
// whole, from a change that was interrupted.
func keepOld(ctx context.Context, db *sql.DB, path string) error {
	if fileExists(path) {
		return nil
	}
	fresh := path + ".new"
	if err := removeFile(fresh); err != nil {
		return err
	}
	if err := copyInto(ctx, db, fresh); err != nil {
		return err
	}
	if err := os.Rename(fresh, path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// notOurs marks the error of a file that is no database, or a ruined one.
func notOurs(err error) error {
	if hasCode(err, codeNotADB) || hasCode(err, codeCorrupt) {
		return fmt.Errorf("%w: %w", ErrNotOurs, err)
	}
	return err
}

// Primary result codes of SQLite (sqlite.org/rescode.html).
const (
	codeCorrupt = 11
	codeFull    = 13
	codeNotADB  = 26
)

// hasCode reports whether err is SQLite's with this primary result code.
func hasCode(err error, code int) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == code
}

func (k kind) step(ctx context.Context, db *sql.DB, have int) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, k.steps[have]); err != nil {
		return err
	}
	if carry := k.carry[have+1]; carry != nil {
		if err := carry(ctx, tx); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", k.id, have+1)); err != nil {
		return err
	}
	return tx.Commit()
}
