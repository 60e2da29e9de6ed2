package powercut

import (
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"
)

// Killed at random moments under full load, on an ordinary disk, a job keeps
// everything that Sync had promised, and goes on.
func TestKills(t *testing.T) {
	kills := scale(t, "STEADYRAIL_KILLS", 8)
	rng := rand.New(rand.NewPCG(seed(t), 32))
	durable, more, early := 0, 0, 0
	for i := range kills {
		l := load{Seed: rng.Uint64(), Channels: 1 + rng.IntN(8), Seconds: 600, Sync: 1, Reopen: rng.IntN(3) * 5}
		dir := filepath.Join(t.TempDir(), "bench")
		acked, p := -1, startProgram(t)
		after, pause := rng.IntN(40), time.Duration(rng.IntN(30_000))*time.Microsecond // the moment is the test
		var killer *time.Timer
		_, err := p.run(order{Do: "ingest", Dir: dir, Load: l}, func(w word) {
			if after--; after < 0 && killer == nil {
				killer = time.AfterFunc(pause, func() { _ = p.cmd.Process.Kill() })
			}
			acked = w.Reached
		})
		if err == nil || killer == nil {
			t.Fatalf("kill %d: the program ended before: %v", i, err)
		}
		killer.Stop()
		records, alarms := expected(l.steps())
		sure, sureAlarms := expected(l.steps()[:acked])
		n, err := resumed(dir, true, records, alarms, len(sureAlarms), nil)
		if err != nil || n < len(sure) {
			t.Errorf("kill %d after %d durable steps: %d of %d records, %v", i, acked, n, len(sure), err)
		}
		if acked == 0 {
			early++
		}
		durable, more = durable+len(sure), more+n-len(sure)
	}
	t.Logf("%d kills; records: %d acknowledged, %d more survived; %d kills before the first", kills, durable, more, early)
}
