package store

import (
	"math/rand/v2"
	"strconv"
	"sync/atomic"
	"testing"

	"steadyrail/capture"
)

// A commit that fails half way, behind readings that were coded and blocks that were
// sealed in memory, leaves nothing that the commits after it could take for theirs:
// what waits for a block moves between two places, and a failed commit has written
// into both.
func TestFailedCommitsLeaveNothingBehind(t *testing.T) {
	for _, statement := range []string{"INSERT ON block", "INSERT ON tail", "DELETE ON tail", "INSERT ON fold"} {
		t.Run(statement, func(t *testing.T) {
			w := workspace(t, quick)
			j := create(t, w, "AB-0147")
			refuses := refuse(j, statement)
			chance := rand.New(rand.NewPCG(1, uint64(len(statement))))
			var want []capture.Record
			consume := func(n int) {
				for range n {
					r := volts(t0+capture.Instant(len(want))*1000, "a/volts", chance.NormFloat64())
					it := r.Item.(capture.Reading)
					it.Text = strconv.FormatFloat(it.Value, 'E', 12, 64) // dear, so that the tail fills
					if chance.IntN(3) == 0 {
						it.Channel = "b/volts"
					}
					r.Item = it
					want = append(want, r)
					j.Consume(r)
				}
			}
			failed := 0
			for round := 0; round < 8 || failed < 2 && round < 200; round++ { // a fold comes when the tail is full
				consume(1 + chance.IntN(4000))
				refuses.Store(true)
				for range 1 + chance.IntN(3) {
					if j.Sync(ctx) != nil {
						failed++
					}
					consume(1 + chance.IntN(2000)) // it comes while the disk refuses
				}
				refuses.Store(false)
				for j.Sync(ctx) != nil { // a commit that was begun while the disk refused
				}
			}
			if failed < 2 {
				t.Errorf("%d commits failed", failed)
			}
			wantSame(t, all(t, j, 0, 0), want)
			verify(t, j)
			closeJob(t, j)
			end := want[len(want)-1].At + 1
			j, err := w.Open("AB-0147", end+second)
			if err != nil {
				t.Fatal(err)
			}
			wantSame(t, all(t, j, 0, end), want)
		})
	}
}

// refuse has a statement fail in the commits that begin while the switch is on.
func refuse(j *Job, statement string) *atomic.Bool {
	var on atomic.Bool
	j.w.begin = func() error { // each time: after a failure the connection is another
		query := "DROP TRIGGER IF EXISTS temp.refuse"
		if on.Load() {
			query = "CREATE TEMP TRIGGER IF NOT EXISTS refuse BEFORE " + statement + " BEGIN SELECT RAISE(ABORT, 'the disk refused'); END"
		}
		_, err := j.w.db.Exec(query)
		return err
	}
	return &on
}
