package store

import (
	"context"
	"encoding/hex"
	"fmt"

	"steadyrail/capture"
)

// Commit is a commit of a job's log and the head it gave.
type Commit struct {
	N    int64 // from 1; 0: none
	Head capture.Head
}

// Heads is what [Job.Heads] found.
type Heads struct {
	// Newest is the newest commit up to which the records give what the file
	// holds of their hashes. Behind damage nothing is looked at.
	Newest Commit
	// Known are those of the heads asked for that came out, also when there is
	// damage behind them.
	Known map[string]Commit
}

// Heads verifies the job as [Job.Verify] does and looks for heads, in lower-case
// hexadecimal. A head that is known from elsewhere and comes out means: what it
// covers is unchanged. With a *[BrokenError] the result says what still holds in
// front of the damage.
func (j *Job) Heads(ctx context.Context, want ...string) (Heads, error) {
	found := Heads{Known: map[string]Commit{}}
	wanted := map[string]bool{}
	for _, sum := range want {
		if b, err := hex.DecodeString(sum); err != nil || len(b) != len(hash{}) {
			return found, fmt.Errorf("find the head %q: a head has %d hexadecimal digits", sum, 2*len(hash{}))
		}
		wanted[sum] = true
	}
	err := j.verify(ctx, func(h capture.Head) {
		found.Newest = Commit{N: found.Newest.N + 1, Head: h}
		if wanted[h.Hash] {
			found.Known[h.Hash] = found.Newest
		}
	})
	if err == nil && found.Newest.N == 0 {
		found.Newest.Head, err = j.Head(ctx)
	}
	return found, err
}
