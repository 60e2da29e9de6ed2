package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"

	"steadyrail/capture"
	"steadyrail/capture/store/block"
	"steadyrail/capture/store/merkle"
)

// ErrNoHead is wrapped when a job has no commit with a head that was named.
var ErrNoHead = errors.New("the record has no such head")

// ErrNoRecord is wrapped when a job has no such record.
var ErrNoRecord = errors.New("there is no such record")

// FindAll yields number and instant of the readings of a channel answered in [from, to)
// that match, in their order, until yield returns false. It reads the commits of that
// stretch, and the whole job where from and to are 0.
func (j *Job) FindAll(ctx context.Context, channel capture.ChannelID, from, to capture.Instant, match func(capture.Instant) bool, yield func(seq int64, at capture.Instant, r capture.Reading) bool) error {
	err := j.walk(ctx, from, to, func(r *row) error {
		if r.kind == kindReading && r.reading.Channel == channel && match(r.at) && !yield(r.seq, r.at, r.reading) {
			return errEnough
		}
		return nil
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return err
}

// Prove returns the proof that record seq, counted from 1, belongs to the record
// with a head, in hexadecimal; "" is the newest one. It reads every record up to
// there and computes the chain with them: a file that does not give the hashes it
// holds proves nothing, and the error is that of [Job.Verify]. An unknown head is
// [ErrNoHead].
func (j *Job) Prove(ctx context.Context, seq int64, head string) (Proof, error) {
	p, err := j.prove(ctx, seq, head)
	if errors.Is(err, ErrBroken) || errors.Is(err, block.ErrCorrupt) {
		if _, where := j.Verify(ctx); where != nil {
			return p, where
		}
	}
	return p, j.wrap(fmt.Sprintf("prove record %d of", seq), err)
}

func (j *Job) prove(ctx context.Context, seq int64, head string) (Proof, error) {
	p := &prover{r: &reader{db: j.r.db}, seq: seq, proof: Proof{Form: proofForm}}
	var err error
	if p.snap, err = p.r.now(ctx); err != nil {
		return p.proof, err
	}
	p.size, p.want = p.snap.newest.last, hex.EncodeToString(p.snap.head[:])
	if head != "" {
		found, err := j.Heads(ctx, head)
		known, ok := found.Known[head]
		if !ok && err != nil {
			return p.proof, err
		}
		if !ok {
			return p.proof, fmt.Errorf("%w: %s", ErrNoHead, head)
		}
		p.size, p.want = int64(known.Head.Count), head
	}
	if seq < 1 || seq > p.size {
		return p.proof, fmt.Errorf("%w: up to that head it has the records 1 to %d", ErrNoRecord, p.size)
	}
	return p.run(ctx)
}

// prover walks the log up to a commit.
type prover struct {
	r        *reader
	snap     *snapshot
	seq      int64  // record that is proved
	size     int64  // records up to the commit
	want     string // head of the commit
	walk     *walker
	binder   binder
	from, to int // of the record's bytes in its run
	proof    Proof
}

func (p *prover) run(ctx context.Context) (Proof, error) {
	err := p.place(ctx)
	if err == nil {
		p.walk, err = p.r.walkFrom(ctx, p.snap, seal{})
	}
	if err != nil {
		return p.proof, err
	}
	path, short := merkle.Path(func(yield func(merkle.Hash) bool) { err = p.leaves(ctx, yield) }, p.proof.Index, p.proof.Leaves)
	switch {
	case err != nil:
		return p.proof, err
	case short != nil || hex.EncodeToString(p.binder.chain.head[:]) != p.want:
		return p.proof, ErrBroken
	}
	p.proof.Path = make([]Hex, len(path))
	for i := range path {
		p.proof.Path[i] = path[i][:]
	}
	return p.proof, nil
}

// place finds the leaf of the record, and how many leaves there are, by what
// the commits say of themselves.
func (p *prover) place(ctx context.Context) error {
	err := p.r.commits(ctx, p.snap, 1, func(c sealed) error {
		run := int64(runOf(c.rule))
		if p.seq >= c.first && p.seq <= c.last {
			p.proof.Index = p.proof.Leaves + uint64((p.seq-c.first)/run)
		}
		p.proof.Leaves += uint64((c.last - c.first + run) / run)
		if c.last < p.size {
			return nil
		}
		if c.rule == ruleRecords {
			return errors.New("that head was made by format 1, which binds no tree of the records: choose a head of a later commit")
		}
		p.proof.Rule, p.proof.Commit, p.proof.First, p.proof.Last, p.proof.Upto = c.rule, c.n, c.first, c.last, c.upto
		return errEnough
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return err
}

// leaves gives the leaves of the tree, and computes the chain to the commit.
func (p *prover) leaves(ctx context.Context, yield func(merkle.Hash) bool) error {
	wanted, n := true, uint64(0)
	p.binder.leaf = func(run []byte, leaf merkle.Hash) {
		if n == p.proof.Index {
			p.take(run)
		}
		n++
		wanted = wanted && yield(leaf)
	}
	err := p.r.commits(ctx, p.snap, 1, func(c sealed) error {
		previous := p.binder.chain.head
		if err := p.commit(ctx, c); err != nil {
			return err
		}
		if c.last < p.size {
			return nil
		}
		root := p.binder.chain.tree.Root()
		p.proof.Root, p.proof.Previous = root[:], previous[:]
		return errEnough
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return err
}

// take divides the run of the record into what the proof shows of it.
func (p *prover) take(run []byte) {
	p.proof.Before, p.proof.Record, p.proof.After = nil, bytes.Clone(run[p.from:p.to]), nil
	if p.from > 0 {
		p.proof.Before = bytes.Clone(run[:p.from])
	}
	if p.to < len(run) {
		p.proof.After = bytes.Clone(run[p.to:])
	}
}

// commit takes the records of one commit.
func (p *prover) commit(ctx context.Context, c sealed) error {
	b := &p.binder
	b.begin(c.rule)
	for seq := c.first; seq <= c.last; seq++ {
		if seq%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		r, err := p.walk.next(ctx)
		if err != nil {
			return err
		}
		if r == nil || r.seq != seq { // else the run and what is taken out of it are not of one place
			return ErrBroken
		}
		from := len(b.buf.buf)
		r.canonical(&b.buf)
		if r.seq == p.seq {
			p.from, p.to = from-b.from, len(b.buf.buf)-b.from
		}
		b.wrote()
	}
	b.seal(c.seal)
	return nil
}
