package store

import (
	"fmt"
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

// item stores an item. One that cannot be written down must not stop the
// record: a gap that says so stands in its place.
func (b *batchWriter) item(seq int64, at capture.Instant, item capture.Item) error {
	kind, body, err := encodeItem(item)
	if err != nil {
		kind, body, err = encodeItem(capture.Gap{From: at, To: at, Reason: fmt.Sprintf("a record could not be written down: %v", err)})
	}
	if err != nil {
		return err
	}
	b.others = append(b.others, other{kindItem, kind, body})
	b.put("INSERT INTO item (seq, at, kind, body) VALUES (?, ?, ?, ?)", seq, int64(at), kind, body)
	return nil
}

func (b *batchWriter) transition(e *entry, seq int64) error {
	body, err := encodeTransition(e.transition)
	if err != nil {
		return err
	}
	b.others = append(b.others, other{kind: kindTransition, body: body})
	b.put("INSERT INTO transition (seq, at, body) VALUES (?, ?, ?)", seq, int64(e.at), body)
	return nil
}

// channel returns the number of a channel, giving it one when it is new.
func (b *batchWriter) channel(key channelKey) int64 {
	if id, ok := b.pos.channels[key]; ok {
		return id
	}
	id := int64(1)
	for _, taken := range b.pos.channels {
		id = max(id, taken+1)
	}
	b.put("INSERT INTO channel (id, name, quantity) VALUES (?, ?, ?)", id, string(key.name), key.quantity.String())
	b.pos.channels[key] = id
	return id
}

// tail writes the commit's own row, with its readings.
func (b *batchWriter) tail(s seal, data []byte) {
	s.mark = markOf(b.pos.chain.head)
	b.pos.newest = s
	b.pos.tail = append(b.pos.tail, s)
	b.pos.tailBytes += len(data)
	b.put("INSERT INTO tail (n, first, last, upto, ties, hash, data) VALUES (?, ?, ?, ?, ?, ?, ?)",
		s.n, s.first, s.last, int64(s.upto), s.ties, slices.Clone(b.pos.chain.head[:]), data)
}

// block writes a block and its summary.
func (b *batchWriter) block(s brief, data []byte) {
	b.put("INSERT INTO block (id, data) VALUES (?, ?)", s.id, data)
	b.put("INSERT INTO brief (id, base, n, first_at, last_at, data) VALUES (?, ?, ?, ?, ?, ?)",
		s.id, s.base, s.n, int64(s.first), int64(s.last), s.data)
}

// fold empties the tail: what waits for a block goes to table rest, and the
// commits into one row.
func (b *batchWriter) fold(rule int) error {
	if len(b.pos.tail) == 0 {
		return nil
	}
	b.put("DELETE FROM tail")
	b.put("DELETE FROM rest")
	for _, id := range sorted(b.pos.filling) {
		f := b.pos.filling[id]
		if len(f.rows) == 0 {
			continue
		}
		b.put("INSERT INTO rest (channel, base, data) VALUES (?, ?, ?)", id, f.base, slices.Clone(b.coder().append(f.rows)))
	}
	return b.foldRow(rule)
}

// foldRow writes the commits of the tail as one row of table fold.
func (b *batchWriter) foldRow(rule int) error {
	var data []byte
	before := b.pos.folded
	for _, s := range b.pos.tail {
		data = appendSeal(data, before, s)
		before = s
	}
	tree, err := b.pos.chain.tree.MarshalBinary()
	if err != nil {
		return err
	}
	b.pos.folded, b.pos.tail, b.pos.tailBytes = before, nil, 0
	b.put("INSERT INTO fold (n, rule, last, upto, ties, hash, tree, data) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		before.n, rule, before.last, int64(before.upto), before.ties, slices.Clone(b.pos.chain.head[:]), tree, data)
	return nil
}
