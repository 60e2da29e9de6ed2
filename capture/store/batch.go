package store

import (
	"slices"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
)

// A row of table tail, once a second, is dear: commits leave it when it has so
// many rows or bytes.
const (
	tailRows  = 512
	tailBytes = 256 << 10
)

// batchWriter computes one commit: out of entries, and the position behind the
// commit before, what is to be written and the position behind it. It touches no
// file.
type batchWriter struct {
	pos    *position
	rows   []statement
	binder binder
	others []other    // the commit's records that are no readings, in order
	fresh  []incoming // the commit's readings, by channel
	turn   int        // place in fresh of the channel that is likely next
	coders []coder
}

// other is what is written of a record that is no reading.
type other struct {
	kind       byte
	name, body string
}

// incoming is what a commit brings of one channel.
type incoming struct {
	key     channelKey
	id      int64
	filling filling // with the commit's readings behind those that waited
	known   int     // readings that waited
}

// statement is a row to be written, or another change of the file.
type statement struct {
	query string
	args  []any
}

// put adds to what is to be written. What args point to must stay as it is.
func (b *batchWriter) put(query string, args ...any) {
	b.rows = append(b.rows, statement{query, args})
}

// begin makes the writer ready for another commit, which moves pos.
func (b *batchWriter) begin(pos *position) {
	b.pos, b.turn = pos, 0
	clear(b.rows)
	b.rows = b.rows[:0]
	b.others = b.others[:0]
	// A commit that failed may have given a number that another channel has now.
	b.fresh = slices.DeleteFunc(b.fresh, func(c incoming) bool { return pos.channels[c.key] != c.id })
	for i := range b.fresh {
		b.fresh[i].wait(pos)
	}
}

// compute makes a batch one commit.
func (b *batchWriter) compute(batch []entry, upto capture.Instant) error {
	s := b.pos.newest.next(int64(len(batch)))
	s.upto = upto
	for i := range batch {
		if err := b.other(&batch[i], s.first+int64(i)); err != nil {
			return err
		}
	}
	// Hashing takes about as long as coding, and needs nothing of it.
	b.binder.chain = b.pos.chain
	hashed := s // a copy: its ties, which no hash binds, are counted meanwhile
	second := b.help(func() { b.hash(batch, hashed) })
	for i := range batch {
		e := &batch[i]
		b.pos.count(e.at)
		if r, ok := e.item.(capture.Reading); ok {
			b.add(channelKey{r.Channel, r.Quantity}, e.at, &r)
		}
	}
	s.ties = b.pos.tiesAt(upto)
	work := b.code(second)
	b.pos.chain = b.binder.chain
	b.seal(work)
	b.tail(s, tailOf(work))
	if len(b.pos.tail) >= tailRows || b.pos.tailBytes >= tailBytes {
		return b.fold(ruleRuns)
	}
	return nil
}

// hash takes the commit into the binder's chain.
func (b *batchWriter) hash(batch []entry, s seal) {
	b.binder.begin(ruleRuns)
	others := b.others
	for i := range batch {
		seq, at := s.first+int64(i), batch[i].at
		if r, ok := batch[i].item.(capture.Reading); ok {
			b.binder.buf.reading(seq, at, &r)
		} else {
			others[0].canonical(&b.binder.buf, seq, at)
			others = others[1:]
		}
		b.binder.wrote()
	}
	b.binder.seal(s)
}

func (o *other) canonical(c *canon, seq int64, at capture.Instant) {
	if o.kind == kindTransition {
		c.transition(seq, at, o.body)
		return
	}
	c.item(seq, at, o.name, o.body)
}

// other stores an entry that is no reading.
func (b *batchWriter) other(e *entry, seq int64) error {
	switch {
	case e.transition != nil:
		return b.transition(e, seq)
	case e.lost != nil:
		return b.item(seq, e.at, *e.lost)
	case e.isReading():
		return nil
	}
	return b.item(seq, e.at, e.item)
}

// add keeps the newest record, a reading, for its channel's blocks.
func (b *batchWriter) add(key channelKey, at capture.Instant, r *capture.Reading) {
	f := &b.incoming(key).filling
	if len(f.rows) == cap(f.rows) {
		f.grow()
	}
	f.rows = append(f.rows, block.RowOf(at, b.pos.tie, r))
}

// wait begins behind what waits of the channel.
func (c *incoming) wait(pos *position) {
	c.filling = pos.filling[c.id]
	c.known = len(c.filling.rows)
}

// incoming returns where readings of a channel go. Channels mostly come in turn.
func (b *batchWriter) incoming(key channelKey) *incoming {
	if b.turn >= len(b.fresh) || b.fresh[b.turn].key != key {
		b.turn = slices.IndexFunc(b.fresh, func(c incoming) bool { return c.key == key })
	}
	if b.turn < 0 {
		b.turn, b.fresh = len(b.fresh), append(b.fresh, incoming{key: key, id: b.channel(key)})
		b.fresh[b.turn].wait(b.pos)
	}
	c := &b.fresh[b.turn]
	if b.turn++; b.turn == len(b.fresh) {
		b.turn = 0
	}
	return c
}
