package store

import (
	"fmt"
	"slices"

	"steadyrail/capture"
)

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
