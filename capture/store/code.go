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
	points  []block.Point
}

// append returns the coded form, which is good until the next call.
func (c *coder) append(rows []block.Row) []byte {
	c.scratch = c.encoder.Append(c.scratch[:0], rows)
	return c.scratch
}

// brief sums up the readings of a block.
func (c *coder) brief(id, base int64, rows []block.Row) brief {
	c.points = c.points[:0]
	for i := range rows {
		c.points = append(c.points, block.Point{At: rows[i].At, Value: rows[i].Value, Flags: rows[i].Flags})
	}
	return newBrief(id, base, c.points)
}

// coded is what a commit makes of one channel's readings.
type coded struct {
	channel int64
	filling filling // behind the commit
	known   int     // readings that waited before it
	tail    []byte  // its part of the row in table tail
	sealed  []sealedBlock
}

// sealedBlock is a block that is full.
type sealedBlock struct {
	brief brief
	data  []byte
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

// helper is a second goroutine at work on a commit. There is one, not one for
// each thing to do: waking another core takes a quarter of a millisecond, and
// what is begun last should be what comes in the smallest parts.
type helper struct {
	next chan func(*coder) // what else to do; nil: nothing
	done chan struct{}
}

// help does something beside whoever calls, and then what [batchWriter.code]
// has to share.
func (b *batchWriter) help(first func()) *helper {
	b.coder()
	h := &helper{next: make(chan func(*coder), 1), done: make(chan struct{})}
	go func() {
		defer close(h.done)
		first()
		if work := <-h.next; work != nil {
			work(&b.coders[1])
		}
	}()
	return h
}

// code codes the commit's readings, channel by channel, on as many cores as
// there are when there is much to do, with the helper, if there is one, as soon
// as it is free; it has ended when code returns. It moves no reading: the rows
// that a commit's position shares with the one before it stay as they are.
func (b *batchWriter) code(h *helper) []coded {
	out, readings := b.work()
	b.coder()
	workers := min(len(b.coders), len(out))
	if readings < worthSharing {
		workers = min(1, workers)
	}
	var next atomic.Int64
	var done sync.WaitGroup
	work := func(c *coder) {
		for i := next.Add(1) - 1; i < int64(len(out)); i = next.Add(1) - 1 {
			out[i].code(c)
		}
	}
	started := 1
	if h != nil {
		defer func() { <-h.done }()
		if workers > 1 {
			h.next <- work
			started++
		} else {
			h.next <- nil
		}
	}
	for i := started; i < workers; i++ {
		done.Go(func() { work(&b.coders[i]) })
	}
	if workers > 0 {
		work(&b.coders[0])
	}
	done.Wait()
	return out
}

// work returns what is to be coded, in order of the channels, and how many
// readings the commit brings.
func (b *batchWriter) work() (out []coded, readings int) {
	known := map[int64]int{}
	for id, f := range b.pos.filling {
		known[id] = len(f.rows)
	}
	for i := range b.fresh {
		c := &b.fresh[i]
		b.pos.filling[c.id], known[c.id] = c.filling, c.known
		readings += len(c.filling.rows) - c.known
	}
	out = make([]coded, 0, len(b.pos.filling))
	for _, id := range sorted(b.pos.filling) {
		out = append(out, coded{channel: id, filling: b.pos.filling[id], known: known[id]})
	}
	return out, readings
}

// code seals the blocks that are full with the commit's readings, and codes those
// that wait on for the tail: what a block of the same transaction holds needs no
// other place.
func (c *coded) code(by *coder) {
	f := &c.filling
	from := f.base + int64(c.known)
	for {
		rows, data := f.full(&by.encoder, by.scratch)
		if rows == nil {
			break
		}
		by.scratch = data
		b := by.brief(blockNumber(c.channel, f.blocks-1), f.base-int64(len(rows)), rows)
		c.sealed = append(c.sealed, sealedBlock{b, slices.Clone(data)})
	}
	from = max(from, f.base)
	for rows := range slices.Chunk(f.rows[from-f.base:], block.MaxRows) {
		c.tail = appendChunk(c.tail, chunk{c.channel, from, by.append(rows)})
		from += int64(len(rows))
	}
}

// seal writes the blocks that are full.
func (b *batchWriter) seal(work []coded) {
	for _, c := range work {
		for _, s := range c.sealed {
			b.block(s.brief, s.data)
		}
		b.pos.filling[c.channel] = c.filling
	}
}

// fill writes the blocks that are full with what waits already.
func (b *batchWriter) fill() { b.seal(b.code(nil)) }

// tailOf joins the channels' parts of the row in table tail.
func tailOf(work []coded) []byte {
	data := []byte{} // not NULL when there are none
	for _, c := range work {
		data = append(data, c.tail...)
	}
	return data
}
