package store

import (
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"steadyrail/capture/store/block"
)

// coder codes readings; one goroutine at a time uses it.
type coder struct {
	encoder block.Encoder
	scratch []byte
}

// append returns the coded form, which is good until the next call.
func (c *coder) append(rows []block.Row) []byte {
	c.scratch = c.encoder.Append(c.scratch[:0], rows)
	return c.scratch
}

// coded is what a commit makes of one channel's readings.
type coded struct {
	channel int64
	filling filling // behind the commit
	tail    []byte  // its part of the row in table tail
	sealed  []sealedBlock
}

// sealedBlock is a block that is full.
type sealedBlock struct {
	k, base int64
	rows    []block.Row
	data    []byte
}

// worthSharing is how many readings of a commit are worth waking another core.
const worthSharing = 1000

// coder returns one for who works alone.
func (b *batchWriter) coder() *coder {
	if len(b.coders) == 0 {
		b.coders = make([]coder, runtime.GOMAXPROCS(0))
	}
	return &b.coders[0]
}

// code codes the commit's readings, channel by channel, on as many cores as
// there are when there is much to do. It moves no reading: the
// rows that a commit's position shares with the one before it stay as they are.
func (b *batchWriter) code() []coded {
	fresh := map[int64][]block.Row{}
	readings := 0
	for _, c := range b.fresh {
		fresh[c.id] = c.rows
		readings += len(c.rows)
		if _, known := b.pos.filling[c.id]; !known {
			b.pos.filling[c.id] = filling{}
		}
	}
	out := make([]coded, 0, len(b.pos.filling))
	for _, id := range sorted(b.pos.filling) {
		out = append(out, coded{channel: id, filling: b.pos.filling[id]})
	}
	b.coder()
	workers := min(len(b.coders), len(out))
	if readings < worthSharing {
		workers = min(1, workers)
	}
	var next atomic.Int64
	var done sync.WaitGroup
	work := func(c *coder) {
		for i := next.Add(1) - 1; i < int64(len(out)); i = next.Add(1) - 1 {
			out[i].code(c, fresh[out[i].channel])
		}
	}
	for i := 1; i < workers; i++ {
		done.Go(func() { work(&b.coders[i]) })
	}
	if workers > 0 {
		work(&b.coders[0])
	}
	done.Wait()
	return out
}

// code lets fresh readings wait for a block, and seals those that are full.
func (c *coded) code(by *coder, fresh []block.Row) {
	f := &c.filling
	base := f.base + int64(len(f.rows))
	for rows := range slices.Chunk(fresh, block.MaxRows) {
		c.tail = appendChunk(c.tail, chunk{c.channel, base, by.append(rows)})
		base += int64(len(rows))
	}
	if room := len(f.rows) + len(fresh); room > cap(f.rows) {
		// As much as the next block is thought to need, or twice what there is: grown
		// by a quarter at a time, a commit would move all that waits.
		f.rows = slices.Grow(f.rows, max(len(fresh), f.guess+len(fresh)-len(f.rows), len(f.rows)))
	}
	f.rows = append(f.rows, fresh...)
	for {
		rows, data := f.full(&by.encoder, by.scratch)
		if rows == nil {
			return
		}
		by.scratch = data
		c.sealed = append(c.sealed, sealedBlock{f.blocks - 1, f.base - int64(len(rows)), rows, slices.Clone(data)})
	}
}

// seal writes the blocks that are full.
func (b *batchWriter) seal(work []coded) {
	for _, c := range work {
		for _, s := range c.sealed {
			b.block(blockNumber(c.channel, s.k), s.base, s.rows, s.data)
		}
		b.pos.filling[c.channel] = c.filling
	}
}

// fill writes the blocks that are full with what waits already.
func (b *batchWriter) fill() { b.seal(b.code()) }

// tailOf joins the channels' parts of the row in table tail.
func tailOf(work []coded) []byte {
	data := []byte{} // not NULL when there are none
	for _, c := range work {
		data = append(data, c.tail...)
	}
	return data
}
