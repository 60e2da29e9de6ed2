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

// Find returns the number of the reading of a channel that was answered at an
// instant. The error wraps [ErrNoRecord].
func (j *Job) Find(ctx context.Context, channel capture.ChannelID, at capture.Instant) (seq int64, err error) {
	err = j.walk(ctx, at, at+1, func(r *row) error {
		if r.kind == kindReading && r.reading.Channel == channel {
			seq = r.seq
			return errEnough
		}
		return nil
	})
	if err == nil {
		err = j.wrap("look into", fmt.Errorf("%w: a reading of %s answered at %s; take channel and time from the export", ErrNoRecord, channel, at))
	}
	if errors.Is(err, errEnough) {
		err = nil
	}
	return seq, err
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
	p := &prover{r: &reader{db: j.r.db}, seq: seq, proof: Proof{Form: proofForm, Index: uint64(seq - 1)}}
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
	r     *reader
	snap  *snapshot
	seq   int64  // record that is proved
	size  int64  // records up to the commit
	want  string // head of the commit
	walk  *walker
	chain chain
	buf   canon
	proof Proof
}

func (p *prover) run(ctx context.Context) (Proof, error) {
	var err error
	if p.walk, err = p.r.walkFrom(ctx, p.snap, seal{}); err != nil {
		return p.proof, err
	}
	path, short := merkle.Path(func(yield func(merkle.Hash) bool) { err = p.leaves(ctx, yield) }, p.proof.Index, uint64(p.size))
	switch {
	case err != nil:
		return p.proof, err
	case short != nil || hex.EncodeToString(p.chain.head[:]) != p.want:
		return p.proof, ErrBroken
	}
	p.proof.Path = make([]Hex, len(path))
	for i := range path {
		p.proof.Path[i] = path[i][:]
	}
	return p.proof, nil
}

// leaves gives the leaf of each record, and computes the chain to the commit.
func (p *prover) leaves(ctx context.Context, yield func(merkle.Hash) bool) error {
	wanted := true
	give := func(leaf merkle.Hash) {
		wanted = wanted && yield(leaf)
	}
	err := p.r.commits(ctx, p.snap, 1, func(c sealed) error {
		previous := p.chain.head
		if err := p.commit(ctx, c, give); err != nil {
			return err
		}
		if c.last < p.size {
			return nil
		}
		if c.rule == ruleRecords {
			return errors.New("that head was made by format 1, which binds no tree of the records: choose a head of a later commit")
		}
		root := p.chain.tree.Root()
		p.proof.Root, p.proof.Previous = root[:], previous[:]
		p.proof.Commit, p.proof.First, p.proof.Last, p.proof.Upto = c.n, c.first, c.last, c.upto
		return errEnough
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return err
}

// commit takes the records of one commit.
func (p *prover) commit(ctx context.Context, c sealed, give func(merkle.Hash)) error {
	p.buf.reset()
	for seq := c.first; seq <= c.last; seq++ {
		if seq%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		r, err := p.walk.next(ctx)
		if err != nil {
			return err
		}
		if r == nil {
			return ErrBroken
		}
		if c.rule != ruleRecords { // which hashes all of the commit at once
			p.buf.reset()
		}
		from := len(p.buf.buf)
		r.canonical(&p.buf)
		record := p.buf.buf[from:]
		if r.seq == p.seq {
			p.proof.Record = bytes.Clone(record)
		}
		leaf := merkle.Leaf(record)
		p.chain.tree.Add(leaf)
		give(leaf)
	}
	if c.rule == ruleRecords {
		p.chain.sealRecords(c.seal, p.buf.buf)
	} else {
		p.chain.seal(c.seal)
	}
	return nil
}
