package powercut

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// whole is everything that a job's file holds.
type whole struct {
	records []capture.Record
	alarms  []capture.Transition
	head    capture.Head
}

// closedJob writes a job's file and returns its bytes and what it holds.
func closedJob(t *testing.T, l load) ([]byte, whole) {
	t.Helper()
	dir := t.TempDir()
	if err := ingest(dir, l, func(int) error { return nil }); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "jobs", jobID+store.Extension)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	j, err := store.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close(ctx)
	var w whole
	if w.records, err = read(j); err == nil {
		if w.alarms, err = j.Transitions(ctx); err == nil {
			w.head, err = j.Head(ctx)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return content, w
}

// outcome is what came of a changed file.
type outcome string

const (
	unused  outcome = "changed nothing that is read"
	named   outcome = "Verify named the commit"
	unnamed outcome = "Verify failed and named no commit"
	refused outcome = "refused when opened"
	nothing outcome = "Verify named the commit, nothing before it"
)

// Whichever bit or byte of a job's file changes by itself: either Verify says
// so, or nothing that is read has changed. What lies before the commit that it
// names is still read, unchanged.
func TestFlips(t *testing.T) {
	flips := scale(t, "STEADYRAIL_FLIPS", 200)
	content, want := closedJob(t, load{Seed: 21, Channels: 3, Seconds: 25, Sync: 1, Reopen: 10, Shut: true})
	rng := rand.New(rand.NewPCG(seed(t), 22))
	path := filepath.Join(t.TempDir(), jobID+store.Extension)
	seen, early := map[outcome]int{}, 0
	for range flips {
		at := rng.IntN(len(content))
		changed := append([]byte{}, content...)
		if rng.IntN(2) == 0 {
			changed[at] ^= 1 << rng.IntN(8)
		} else {
			changed[at] ^= byte(1 + rng.IntN(255))
		}
		if err := os.WriteFile(path, changed, 0o600); err != nil {
			t.Fatal(err)
		}
		what, kept, err := afterFlip(path, want)
		if err != nil {
			t.Errorf("byte %d of %d, %#x instead of %#x: %v", at, len(content), changed[at], content[at], err)
		}
		seen[what]++
		early += kept
	}
	t.Logf("%d flips of a file of %d bytes and %d records: %v; %d records on average were before the named commit",
		flips, len(content), len(want.records), seen, early/max(1, seen[named]))
}

// afterFlip verifies a changed file and reads it. It returns how many records
// lie before the commit that Verify named.
func afterFlip(path string, want whole) (outcome, int, error) {
	j, err := store.OpenFile(path)
	if err != nil {
		return refused, 0, nil
	}
	defer j.Close(ctx)
	head, err := j.Verify(ctx)
	var broken *store.BrokenError
	switch {
	case err == nil:
		return unused, 0, unchanged(j, head, want)
	case !errors.As(err, &broken):
		return unnamed, 0, nil
	case broken.Commit < 1 || broken.To < broken.From:
		return named, 0, fmt.Errorf("%w: that is no commit", err)
	case broken.From == 0:
		return nothing, 0, nil
	}
	var before []capture.Record
	err = j.Records(ctx, 0, broken.From, func(r capture.Record) error { before = append(before, r); return nil })
	if err != nil {
		return named, 0, fmt.Errorf("%w; and what is before cannot be read: %w", broken, err)
	}
	n := 0
	for n < len(want.records) && want.records[n].At < broken.From {
		n++
	}
	if len(before) != n {
		return named, 0, fmt.Errorf("%w; %d of %d records are before", broken, len(before), n)
	}
	return named, n, beginning(before, want.records)
}

// unchanged holds a file that Verify accepts against what was written.
func unchanged(j *store.Job, head capture.Head, want whole) error {
	var got []capture.Record
	if err := j.Records(ctx, 0, 0, func(r capture.Record) error { got = append(got, r); return nil }); err != nil {
		return err
	}
	if head != want.head {
		return fmt.Errorf("the head is %+v", head)
	}
	if len(got) != len(want.records) {
		return fmt.Errorf("Verify accepts it; %d of %d records are there", len(got), len(want.records))
	}
	if err := beginning(got, want.records); err != nil {
		return fmt.Errorf("Verify accepts it; %w", err)
	}
	alarms, err := j.Transitions(ctx)
	if err != nil {
		return err
	}
	if len(alarms) != len(want.alarms) {
		return fmt.Errorf("Verify accepts it; %d of %d alarms are there", len(alarms), len(want.alarms))
	}
	for i := range alarms {
		if alarms[i].Alarm != want.alarms[i].Alarm || alarms[i].At != want.alarms[i].At || alarms[i].Value != want.alarms[i].Value {
			return fmt.Errorf("Verify accepts it; alarm %d came back as %+v", i, alarms[i])
		}
	}
	return nil
}
