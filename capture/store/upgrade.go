package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// carryFormat1 brings the records of a format 1 file, which kept a row for each
// reading, into blocks. The commits and their hashes stay what they were.
func carryFormat1(ctx context.Context, tx *sql.Tx) error {
	channels, err := readChannels(ctx, tx)
	if err != nil {
		return err
	}
	old := &format1{tx: tx, keys: channels, pos: newPosition()}
	for id, key := range channels {
		old.pos.channels[key] = id
	}
	var list []seal
	var hashes []hash
	err = each(ctx, tx, "SELECT n, first, last, upto, hash FROM sealed1 ORDER BY n", nil, func(scan func(...any) error) error {
		var s seal
		var sum []byte
		if err := scan(&s.n, &s.first, &s.last, &s.upto, &sum); err != nil {
			return err
		}
		h, err := asHash(sum, s.n)
		list, hashes = append(list, s), append(hashes, h)
		return err
	})
	if err != nil {
		return err
	}
	for i, s := range list {
		if err := old.commit(ctx, s, hashes[i]); err != nil {
			return err
		}
	}
	old.batch.begin(&old.pos)
	err = old.batch.fold(ruleRecords)
	if err == nil {
		err = run(ctx, tx, old.batch.rows)
	}
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "DROP TABLE reading1; DROP TABLE sealed1")
	return err
}

// format1 is a file of that format on its way into this one.
type format1 struct {
	tx    *sql.Tx
	keys  map[int64]channelKey
	pos   position
	batch batchWriter
}

// commit carries the records of one commit over. What was changed in a record is
// carried over as it is, and fails [Job.Verify] as it did; a record that is
// missing ends the change of format, and the file stays what it was.
func (f *format1) commit(ctx context.Context, s seal, h hash) error {
	f.batch.begin(&f.pos)
	tree := binder{chain: f.pos.chain}
	tree.begin(ruleTree) // the hash stays what it was
	rows, err := f.rows(ctx, s.first, s.last)
	if err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		if r.seq != f.pos.seq+1 {
			return fmt.Errorf("%w: record %d is missing; the file stays in its old format, which its own table spec explains", ErrBroken, f.pos.seq+1)
		}
		f.pos.count(r.at)
		r.canonical(&tree.buf)
		tree.wrote()
		if r.kind == kindReading {
			f.batch.add(f.keys[r.channel], r.at, &r.reading)
		}
	}
	s.ties = f.pos.tiesAt(s.upto)
	f.pos.chain = chain{head: h, tree: tree.chain.tree}
	work := f.batch.code(nil)
	f.batch.seal(work)
	f.batch.tail(s, tailOf(work))
	if len(f.pos.tail) >= tailRows || f.pos.tailBytes >= tailBytes {
		if err := f.batch.fold(ruleRecords); err != nil {
			return err
		}
	}
	return run(ctx, f.tx, f.batch.rows)
}

// rows reads the records first to last.
func (f *format1) rows(ctx context.Context, first, last int64) (out []row, err error) {
	const query = `SELECT seq, at, 1, '', '', channel, value, text, resolution, range, flags, measured, half_width, ordinal FROM reading1 WHERE seq BETWEEN ?1 AND ?2
		UNION ALL SELECT seq, at, 2, kind, body, 0, 0, '', 0, 0, 0, 0, 0, 0 FROM item WHERE seq BETWEEN ?1 AND ?2
		UNION ALL SELECT seq, at, 3, '', body, 0, 0, '', 0, 0, 0, 0, 0, 0 FROM transition WHERE seq BETWEEN ?1 AND ?2 ORDER BY 1`
	err = each(ctx, f.tx, query, []any{first, last}, func(scan func(...any) error) error {
		var it row
		var half, ordinal int64
		g := &it.reading
		err := scan(&it.seq, &it.at, &it.kind, &it.name, &it.body, &it.channel,
			(*exact)(&g.Value), &g.Text, (*exact)(&g.Resolution), (*exact)(&g.Range), &g.Flags, &g.Measured, &half, &ordinal)
		if err != nil {
			return err
		}
		g.HalfWidth, g.Ordinal = time.Duration(half), uint64(ordinal)
		if it.kind == kindReading {
			key, ok := f.keys[it.channel]
			if !ok {
				return fmt.Errorf("a reading of channel number %d, which the file does not name", it.channel)
			}
			g.Channel, g.Quantity = key.name, key.quantity
		}
		out = append(out, it)
		return nil
	})
	return out, err
}
