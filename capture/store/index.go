package store

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"steadyrail/capture"
)

// Summary is a line of the list of jobs.
type Summary struct {
	Job          string          `json:"job"`
	Set          string          `json:"set,omitempty"`
	Board        string          `json:"board,omitempty"`
	SerialNumber string          `json:"serial_number,omitempty"`
	Symptom      string          `json:"symptom,omitempty"`
	Opened       capture.Instant `json:"opened"` // 0: not yet
	Closed       capture.Instant `json:"closed"` // 0: still open
	Path         string          `json:"path"`
}

func (s *Summary) sheet(from capture.Sheet) {
	s.Set, s.Board, s.SerialNumber, s.Symptom = from.Set, from.Board, from.SerialNumber, from.Symptom
}

func (s *Summary) act(at capture.Instant, verb capture.Verb) {
	switch verb {
	case capture.ActOpen:
		if s.Opened == 0 {
			s.Opened = at
		}
		s.Closed = 0
	case capture.ActClose:
		s.Closed = at
	}
}

// index is the bench's list of jobs, derived from the files.
type index struct {
	db  *sql.DB
	dir string // of the job files
}

// openIndex opens the index; one that is lost or ruined is made again.
func openIndex(ctx context.Context, path, dir string) (*index, error) {
	x, err := tryIndex(ctx, path, dir)
	if err == nil {
		return x, nil
	}
	for _, old := range []string{path, path + "-wal", path + "-shm"} {
		if e := os.Remove(old); e != nil && !os.IsNotExist(e) {
			return nil, fmt.Errorf("make the bench index again: %w (it was: %w)", e, err)
		}
	}
	return tryIndex(ctx, path, dir)
}

func tryIndex(ctx context.Context, path, dir string) (*index, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	db, err := openWriter(ctx, path, benchKind)
	if err != nil {
		return nil, err
	}
	x := &index{db: db, dir: dir}
	err = benchKind.migrate(ctx, db, nil)
	if err == nil {
		err = x.refresh(ctx)
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return x, nil
}

// refresh compares the index with the folder: files that it does not know or
// that were left while being written are read again; what is gone is removed.
func (x *index) refresh(ctx context.Context) error {
	known, err := x.known(ctx)
	if err != nil {
		return err
	}
	files, err := filepath.Glob(filepath.Join(escapeGlob(x.dir), "*"+Extension))
	if err != nil {
		return err
	}
	for _, path := range files {
		id := strings.TrimSuffix(filepath.Base(path), Extension)
		busy, have := known[id]
		delete(known, id)
		if have && !busy {
			continue
		}
		if err := x.reread(ctx, id, path); err != nil {
			return err
		}
	}
	for id := range known {
		if _, err := x.db.ExecContext(ctx, "DELETE FROM job WHERE id = ?", id); err != nil {
			return err
		}
	}
	return nil
}

// reread takes a job's line from its file. A file that cannot be read keeps a
// line with its name, so that it is not forgotten.
func (x *index) reread(ctx context.Context, id, path string) error {
	s := Summary{Job: id, Path: path}
	if j, err := OpenFile(path); err == nil {
		if got, err := j.summary(ctx); err == nil {
			s = got
			s.Job = id
		}
		_ = j.Close(ctx)
	}
	return x.put(ctx, s, false)
}

func (x *index) known(ctx context.Context) (map[string]bool, error) {
	rows, err := x.db.QueryContext(ctx, "SELECT id, busy FROM job")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]bool{}
	for rows.Next() {
		var id string
		var busy bool
		if err := rows.Scan(&id, &busy); err != nil {
			return nil, err
		}
		out[id] = busy
	}
	return out, rows.Err()
}

// put writes a job's line. A busy one is read again from its file at the next
// start, should this daemon not end in order.
func (x *index) put(ctx context.Context, s Summary, busy bool) error {
	_, err := x.db.ExecContext(ctx, "INSERT OR REPLACE INTO job (id, title, board, serial_number, symptom, opened, closed, busy) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		s.Job, s.Set, s.Board, s.SerialNumber, s.Symptom, int64(s.Opened), int64(s.Closed), busy)
	return err
}

// discard takes a line out.
func (x *index) discard(ctx context.Context, id string) error {
	_, err := x.db.ExecContext(ctx, "DELETE FROM job WHERE id = ?", id)
	return err
}

// list returns every line, opened last first.
func (x *index) list(ctx context.Context) ([]Summary, error) {
	rows, err := x.db.QueryContext(ctx, "SELECT id, title, board, serial_number, symptom, opened, closed FROM job ORDER BY opened DESC, id DESC")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Summary
	for rows.Next() {
		var s Summary
		if err := rows.Scan(&s.Job, &s.Set, &s.Board, &s.SerialNumber, &s.Symptom, &s.Opened, &s.Closed); err != nil {
			return nil, err
		}
		s.Path = filepath.Join(x.dir, s.Job+Extension)
		out = append(out, s)
	}
	return out, rows.Err()
}

// escapeGlob makes a folder's name safe inside a pattern.
func escapeGlob(dir string) string {
	return strings.NewReplacer("*", `[*]`, "?", `[?]`, "[", `[[]`).Replace(dir)
}

// indexLine keeps one open job's line of the index up to date. It belongs to
// the job's writer. The index is a comfort: that it cannot be written stops
// nothing, and a line left busy is read again at the next start.
type indexLine struct {
	summary Summary
	index   *index
	ended   func() // told when the job's file is closed
}

func (l *indexLine) put(busy bool) error {
	return l.index.put(context.Background(), l.summary, busy)
}

// committed looks for what changes the line in a batch that is durable.
func (l *indexLine) committed(batch []entry) {
	changed := false
	for _, e := range batch {
		switch it := e.item.(type) {
		case capture.Sheet:
			l.summary.sheet(it)
			changed = true
		case capture.Act:
			before := l.summary
			l.summary.act(e.at, it.Verb)
			changed = changed || l.summary != before
		}
	}
	if changed {
		_ = l.put(true)
	}
}

func (l *indexLine) end() {
	_ = l.put(false)
	l.ended()
}
