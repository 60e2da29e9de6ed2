package story

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// journalName is the file in the workspace in which a practice bench keeps what
// hands did to it. It is no part of any job's record.
const journalName = "demo-hands.jsonl"

// journalFormat is the format that this program writes; it reads no other.
const journalFormat = 1

// errJournal is wrapped when a journal cannot be gone on with.
var errJournal = errors.New("what hands did here cannot be done again")

// journalHead is a journal's first line: what it is, and which bench it is of.
type journalHead struct {
	Journal string `json:"journal"`
	Format  int    `json:"format"`
	Board   string `json:"board"`
	Seed    uint64 `json:"seed"`
}

// journalLine is each line behind it: a set that came in as new for a job, what
// hands did, or the supply being set otherwise. Every one has how the bench
// stood right after.
type journalLine struct {
	At    time.Time    `json:"at"`
	Job   string       `json:"job,omitempty"`
	Do    []string     `json:"do,omitempty"`
	Stand sim.Standing `json:"stand"`

	line int // in the file
}

// journal is what is read, and where more is written. Safe for concurrent use
// once it is open.
type journal struct {
	path  string
	head  journalHead
	lines []journalLine // read at the start; from the last set that came in
	other bool          // the file there is of another board, and is to be laid aside
	aside string        // where it was laid; empty: none was

	mu   sync.Mutex
	file *os.File // nil: nothing is kept; guarded by mu
	fail error    // the first failure to write; guarded by mu
}

// boardMark tells boards apart that hands could do different things to.
func boardMark() string {
	b, _ := json.Marshal([]any{configs.ExampleBoard, sim.Alderbrook(), sim.Parts(), sim.Points(), sim.Instruments()}) // plain values
	return fmt.Sprintf("%x", sha256.Sum256(b))[:16]
}

// ours is the head of a journal that this program goes on with, but for its seed.
func ours() journalHead {
	return journalHead{Journal: "hands of steadyrail demo --plain", Format: journalFormat, Board: boardMark()}
}

// readJournal reads the journal of a folder. Where there is none it has no lines.
// What was being written when the program was killed is left out.
func readJournal(folder string) (*journal, error) {
	j := &journal{path: filepath.Join(folder, journalName), head: ours()}
	text, err := os.ReadFile(j.path)
	if errors.Is(err, fs.ErrNotExist) {
		return j, nil
	}
	if err == nil {
		err = j.parse(text)
	}
	if errors.Is(err, errOtherBoard) {
		return &journal{path: j.path, head: ours(), other: true}, nil
	}
	if err != nil {
		return nil, j.wrong(err)
	}
	return j, nil
}

// wrong says what to do about a journal that cannot be used.
func (j *journal) wrong(err error) error {
	return fmt.Errorf("%w: %s: %w. The record is untouched. To begin with a set as it came in, rename that file, or take another --workspace; the open jobs stay open", errJournal, j.path, err)
}

func (j *journal) parse(text []byte) error {
	lines := bytes.Split(text, []byte("\n"))
	for i, l := range lines {
		if i == len(lines)-1 && !json.Valid(l) {
			break // empty behind the last line's end, or torn
		}
		if err := j.parseLine(i, l); err != nil {
			return fmt.Errorf("line %d: %w", i+1, err)
		}
	}
	return nil
}

func (j *journal) parseLine(i int, text []byte) error {
	if i == 0 {
		var h journalHead
		if err := json.Unmarshal(text, &h); err != nil {
			return fmt.Errorf("it cannot be read: %w", err)
		}
		switch {
		case h.Journal != j.head.Journal:
			return errors.New("it is no such journal")
		case h.Format != journalFormat:
			return fmt.Errorf("it has format %d, and this program knows %d", h.Format, journalFormat)
		case h.Board != j.head.Board:
			return errOtherBoard
		}
		j.head.Seed = h.Seed
		return nil
	}
	var l journalLine
	if err := json.Unmarshal(text, &l); err != nil {
		return fmt.Errorf("it cannot be read: %w", err)
	}
	l.line = i + 1
	if l.Job != "" {
		j.lines = nil // an earlier set's
	}
	j.lines = append(j.lines, l)
	return nil
}

// has reports whether a set lies on this bench already; a story has no journal.
func (j *journal) has() bool { return j != nil && len(j.lines) > 0 }

// begin has what follows written. What was torn off at the last end is cut off
// first. It may be called once.
func (j *journal) begin() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	text, err := os.ReadFile(j.path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if text, err = j.whole(text); err != nil {
		return err
	}
	fresh := j.path + ".new"
	if j.file, err = os.OpenFile(fresh, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600); err != nil {
		return err
	}
	_, err = j.file.Write(text)
	if err = errors.Join(err, j.file.Sync(), j.file.Close()); err == nil {
		err = os.Rename(fresh, j.path)
	}
	if err == nil {
		j.file, err = os.OpenFile(j.path, os.O_APPEND|os.O_WRONLY, 0o600)
	}
	if err != nil {
		j.file = nil
	}
	return err
}

// whole is a journal's text with its head, and every line whole.
func (j *journal) whole(text []byte) ([]byte, error) {
	if end := bytes.LastIndexByte(text, '\n') + 1; !json.Valid(text[end:]) {
		text = text[:end]
	} else {
		text = append(text, '\n')
	}
	if len(text) > 0 {
		return text, nil
	}
	head, err := json.Marshal(j.head)
	return append(head, '\n'), err
}

// note writes a line in one piece. Killed the moment after, the line is there.
func (j *journal) note(l journalLine) error {
	text, err := json.Marshal(l)
	if err != nil {
		return err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.file == nil {
		return nil
	}
	n, err := j.file.Write(append(text, '\n'))
	if err != nil {
		err = errors.Join(err, j.cut(n))
	}
	if j.fail == nil {
		j.fail = err
	}
	return err
}

// cut takes the n bytes of a line back that a full disk tore off: what is written
// behind it, once there is room, would make one unreadable line with it.
func (j *journal) cut(n int) error {
	info, err := j.file.Stat()
	if err != nil || n == 0 {
		return err
	}
	return j.file.Truncate(info.Size() - int64(n))
}

// sync waits until the disk has what was written. It does so without the lock:
// the bench notes how its supply is set under its own.
func (j *journal) sync() error {
	j.mu.Lock()
	file := j.file
	j.mu.Unlock()
	if file == nil {
		return nil
	}
	if err := file.Sync(); !errors.Is(err, os.ErrClosed) { // end waits for the disk itself
		return err
	}
	return nil
}

// end closes the file, and says what could not be written since it was begun.
func (j *journal) end() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.file == nil {
		return nil
	}
	err := errors.Join(j.fail, j.file.Sync(), j.file.Close())
	j.file = nil
	return err
}
