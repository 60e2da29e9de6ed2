//go:build amd64 || arm64

package powercut

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
)

// cut is the disk at one moment.
type cut struct {
	image *object
	acked int // steps known to be durable; -1: not even the job
	seed  uint64
}

// Wherever the power fails under full load, everything that Sync had promised
// is there to the bit, what is there beyond is a clean beginning of what was
// consumed, and the job goes on.
func TestPowerCuts(t *testing.T) {
	want := scale(t, "STEADYRAIL_POWERCUTS", 120)
	seed := seed(t)
	rng := rand.New(rand.NewPCG(seed, 3))
	program := startProgram(t)
	tally := &tally{plain: inMemory(t, "256m")}
	for round := 0; tally.cuts < want && !t.Failed(); round++ {
		l := load{Seed: rng.Uint64(), Channels: 1 + rng.IntN(8), Seconds: 10 + rng.IntN(20), Sync: 1, Reopen: rng.IntN(3) * 5, Shut: round%2 == 1}
		if round%6 == 5 {
			l.Seconds = 120 // long enough for the log to be carried over under way
		}
		t.Run(fmt.Sprintf("round %d", round), func(t *testing.T) { cutRound(t, program, l, rng, want, tally) })
	}
	t.Logf("seed %d: %d cuts; records: %d acknowledged, %d more survived; %d cuts before the job was known to exist",
		seed, tally.cuts, tally.acked, tally.more, tally.early)
}

// tally counts what was seen.
type tally struct {
	plain                    string // a folder on a disk that keeps its word
	cuts, acked, more, early int
}

// cutRound lets the program fill one job, cuts at random operations and looks
// at what survives each.
func cutRound(t *testing.T, program *program, l load, rng *rand.Rand, want int, sum *tally) {
	d, dir := mounted(t, rng.Uint64())
	acked := -1
	cuts := make(chan cut)
	gap := l.Seconds * 5
	d.cutAt = 1 + rng.IntN(3*gap) // few cuts while the job is made
	d.onCut = func() {
		cuts <- cut{image: d.root.copied(map[*object]*object{}), acked: acked, seed: rng.Uint64()}
		d.cutAt, d.cutSync = d.total+1+rng.IntN(gap), rng.IntN(2) == 0
	}
	steps := l.steps()
	var wait sync.WaitGroup
	wait.Go(func() {
		for c := range cuts {
			if sum.cuts++; sum.cuts <= want && !t.Failed() {
				afterCut(t, c, steps, sum)
			}
		}
	})
	end, err := program.run(order{Do: "ingest", Dir: filepath.Join(dir, "bench"), Load: l}, func(w word) {
		d.mu.Lock()
		acked = w.Reached
		d.mu.Unlock()
	})
	d.mu.Lock()
	d.cutAt = 0
	d.mu.Unlock()
	close(cuts)
	wait.Wait()
	sum.cuts = min(sum.cuts, want)
	if err != nil || end.Fatal != "" {
		t.Fatalf("the program: %v %s", err, end.Fatal)
	}
}

// afterCut lays out what survived in a plain folder and opens it.
func afterCut(t *testing.T, c cut, steps []step, sum *tally) {
	t.Helper()
	dir := layOut(t, sum.plain, survivor(c.image, rand.New(rand.NewPCG(c.seed, 4))))
	defer os.RemoveAll(dir)
	records, alarms := expected(steps)
	sure, sureAlarms := expected(steps[:max(0, c.acked)])
	if c.acked < 0 {
		sum.early++
	}
	got, err := resumed(filepath.Join(dir, "bench"), c.acked >= 0, records, alarms, len(sureAlarms), nil)
	if err == nil && got < len(sure) {
		err = fmt.Errorf("%d records were durable, %d are there", len(sure), got)
	}
	if err != nil {
		t.Errorf("cut with seed %d after %d durable steps: %v", c.seed, c.acked, err)
	}
	sum.acked += len(sure)
	sum.more += got - len(sure)
}

// layOut writes an image into a fresh folder inside plain.
func layOut(t *testing.T, plain string, image map[string][]byte) string {
	t.Helper()
	dir, err := os.MkdirTemp(plain, "cut")
	if err != nil {
		t.Fatal(err)
	}
	for path, content := range image {
		path = filepath.Join(dir, path)
		if content == nil {
			err = os.MkdirAll(path, 0o700)
		} else if err = os.MkdirAll(filepath.Dir(path), 0o700); err == nil {
			err = os.WriteFile(path, content, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return dir
}
