package store

import (
	"context"
	"maps"
	"math"
	"slices"

	"steadyrail/capture"
)

// position is where the log of a file ends: what the writer must know to go
// on. A commit works on a copy, which takes effect when it is durable.
type position struct {
	seq       int64
	at        capture.Instant // of the newest record
	tie       uint32          // of the newest record: its rank among those of the same instant
	upto      capture.Instant // the log is complete up to here
	newest    seal
	folded    seal
	tail      []seal // since folded
	rule      int    // of the tail's commits
	tailBytes int
	chain     chain
	channels  map[channelKey]int64
	filling   map[int64]filling
}

func newPosition() position {
	return position{at: math.MinInt64, rule: ruleRuns, channels: map[channelKey]int64{}, filling: map[int64]filling{}}
}

func (p position) clone() position {
	p.channels, p.filling = maps.Clone(p.channels), maps.Clone(p.filling)
	return p
}

// reuse takes over the room in which an older position, that nobody needs any
// more, had readings that are in blocks now.
func (p *position) reuse(old position) {
	for id, f := range p.filling {
		was := old.filling[id]
		if f.spare != nil || f.blocks == was.blocks || cap(was.rows) == 0 {
			continue
		}
		clear(was.rows) // let go of the texts
		f.spare = was.rows[:0]
		p.filling[id] = f
	}
}

// count makes room for the next record.
func (p *position) count(at capture.Instant) {
	p.seq++
	if at == p.at {
		p.tie++
		return
	}
	p.at, p.tie = at, 0
}

// tiesAt returns how many records the log has at an instant that is not before
// the newest.
func (p *position) tiesAt(upto capture.Instant) uint32 {
	if p.at == upto {
		return p.tie + 1
	}
	return 0
}

// position reads where the log ends.
func (r *reader) position(ctx context.Context) (position, error) {
	p := newPosition()
	snap, err := r.now(ctx)
	if err != nil {
		return p, err
	}
	p.newest, p.folded = snap.newest, snap.folded
	for _, c := range snap.tail {
		p.tail, p.rule = append(p.tail, c.seal), c.rule
	}
	p.seq, p.upto = snap.newest.last, snap.newest.upto
	if ties := snap.newest.ties; ties > 0 {
		p.at, p.tie = snap.newest.upto, ties-1
	}
	for id, key := range snap.channels {
		p.channels[key] = id
		f := snap.filling[id]
		f.rows = slices.Clone(f.rows)
		p.filling[id] = f
	}
	if err := r.complete(ctx, snap); err != nil {
		return p, err
	}
	if p.chain, err = r.chain(ctx, snap); err != nil {
		return p, err
	}
	if err := r.db.QueryRowContext(ctx, "SELECT coalesce(sum(length(data)), 0) FROM tail").Scan(&p.tailBytes); err != nil {
		return p, err
	}
	var alive capture.Instant
	err = r.db.QueryRowContext(ctx, "SELECT upto FROM alive").Scan(&alive)
	p.upto = max(p.upto, alive)
	return p, err
}
