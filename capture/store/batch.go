package store

import (
	"database/sql"
	"fmt"
	"math"
	"strings"

	"steadyrail/capture"
)

// batchWriter turns entries into the rows of one commit.
type batchWriter struct {
	tx    *sql.Tx
	pos   *position
	canon *canon
	many  *sql.Stmt
	rows  []any // columns of readings that wait for one INSERT
}

// rowsAtOnce is how many readings go into one INSERT: the cost of a call into
// the database is then shared.
const rowsAtOnce = 32

const (
	readingColumns = 11
	insertReading  = "INSERT INTO reading (seq, at, channel, value, text, resolution, range, flags, measured, half_width, ordinal) VALUES "
	insertCell     = "INSERT INTO cell (channel, start, n, bad, min, max, sum, last, last_at, last_seq) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)

// values returns n groups of placeholders for a reading.
func values(n int) string {
	group := "(" + strings.TrimSuffix(strings.Repeat("?,", readingColumns), ",") + ")"
	return strings.TrimSuffix(strings.Repeat(group+",", n), ",")
}

// write stores a batch and the commit's row.
func (b *batchWriter) write(batch []entry, upto capture.Instant) error {
	s := seal{n: b.pos.n + 1, first: b.pos.seq + 1, last: b.pos.seq + int64(len(batch)), upto: upto}
	b.canon.begin(s)
	for i := range batch {
		if err := b.entry(&batch[i]); err != nil {
			return err
		}
	}
	if err := b.flush(); err != nil {
		return err
	}
	for channel, c := range b.pos.cells.over(upto) {
		if err := b.cell(channel, c); err != nil {
			return err
		}
	}
	b.pos.n, b.pos.upto, b.pos.head = s.n, upto, b.canon.link(b.pos.head)
	_, err := b.tx.Exec("INSERT INTO sealed (n, first, last, upto, hash) VALUES (?, ?, ?, ?, ?)",
		s.n, s.first, s.last, int64(s.upto), b.pos.head[:])
	return err
}

func (b *batchWriter) entry(e *entry) error {
	b.pos.seq++
	switch {
	case e.transition != nil:
		return b.transition(e)
	case e.lost != nil:
		return b.item(e.at, *e.lost)
	}
	if r, ok := e.item.(capture.Reading); ok {
		return b.reading(e.at, &r)
	}
	return b.item(e.at, e.item)
}

func (b *batchWriter) reading(at capture.Instant, r *capture.Reading) error {
	seq := b.pos.seq
	channel, err := b.channel(channelKey{r.Channel, r.Quantity})
	if err != nil {
		return err
	}
	b.canon.reading(seq, at, r)
	if ended, ok := b.pos.cells.add(channel, seq, at, r.Value, r.Flags); ok {
		if err := b.cell(channel, ended); err != nil {
			return err
		}
	}
	b.rows = append(b.rows, seq, int64(at), channel, realColumn(r.Value), r.Text, realColumn(r.Resolution), realColumn(r.Range),
		int64(r.Flags), int64(r.Measured), int64(r.HalfWidth), int64(r.Ordinal))
	if len(b.rows) < rowsAtOnce*readingColumns {
		return nil
	}
	_, err = b.many.Exec(b.rows...)
	b.rows = b.rows[:0]
	return err
}

// flush writes the readings that did not fill an INSERT.
func (b *batchWriter) flush() error {
	if len(b.rows) == 0 {
		return nil
	}
	_, err := b.tx.Exec(insertReading+values(len(b.rows)/readingColumns), b.rows...)
	b.rows = b.rows[:0]
	return err
}

// item stores an item. One that cannot be written down must not stop the
// record: a gap that says so stands in its place.
func (b *batchWriter) item(at capture.Instant, item capture.Item) error {
	kind, body, err := encodeItem(item)
	if err != nil {
		kind, body, err = encodeItem(capture.Gap{From: at, To: at, Reason: fmt.Sprintf("a record could not be written down: %v", err)})
	}
	if err != nil {
		return err
	}
	b.canon.item(b.pos.seq, at, kind, body)
	_, err = b.tx.Exec("INSERT INTO item (seq, at, kind, body) VALUES (?, ?, ?, ?)", b.pos.seq, int64(at), kind, body)
	return err
}

func (b *batchWriter) transition(e *entry) error {
	body, err := encodeTransition(e.transition)
	if err != nil {
		return err
	}
	b.canon.transition(b.pos.seq, e.at, body)
	_, err = b.tx.Exec("INSERT INTO transition (seq, at, body) VALUES (?, ?, ?)", b.pos.seq, int64(e.at), body)
	return err
}

// channel returns the number of a channel, giving it one when it is new.
func (b *batchWriter) channel(key channelKey) (int64, error) {
	if id, ok := b.pos.channels[key]; ok {
		return id, nil
	}
	id := int64(len(b.pos.channels) + 1)
	_, err := b.tx.Exec("INSERT INTO channel (id, name, quantity) VALUES (?, ?, ?)", id, string(key.name), key.quantity.String())
	b.pos.channels[key] = id
	return id, err
}

func (b *batchWriter) cell(channel int64, c openCell) error {
	_, err := b.tx.Exec(insertCell, channel, int64(c.start), c.n, c.bad,
		realColumn(c.min), realColumn(c.max), realColumn(noNaNSign(c.total)), realColumn(c.last), int64(c.lastAt), c.lastSeq)
	return err
}

// noNaNSign gives every NaN the same bits: those of a computed NaN differ
// between processors.
func noNaNSign(v float64) float64 {
	if v != v {
		return math.NaN()
	}
	return v
}
