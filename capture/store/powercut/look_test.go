package powercut

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// scale is a number from the environment, or else the usual one, a fifth of it
// when tests are to be short.
func scale(t *testing.T, name string, usual int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" && testing.Short() {
		return max(1, usual/5)
	}
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q: a whole number above 0 is needed", name, text)
	}
	return n
}

// seed begins the chances of a test.
func seed(t *testing.T) uint64 {
	t.Helper()
	text := os.Getenv("STEADYRAIL_SEED")
	if text == "" {
		return 20260302
	}
	n, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		t.Fatalf("STEADYRAIL_SEED=%q: a whole number is needed", text)
	}
	return n
}

// resumed opens a workspace after the power came back, compares, and goes on.
// It returns the number of records that it found, of those that pick leaves when
// it is given.
func resumed(dir string, must bool, records []capture.Record, alarms []capture.Transition, sureAlarms int, pick func([]capture.Record) []capture.Record) (n int, err error) {
	w, err := store.OpenWorkspace(dir, options)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	now := t0 + 3600*second
	j, err := w.Open(jobID, now)
	if errors.Is(err, store.ErrNoJob) && !must {
		j, err = w.Create(capture.Sheet{Job: jobID})
	}
	if err != nil {
		return 0, err
	}
	got, err := read(j)
	if err != nil {
		return 0, err
	}
	whole := got
	if gap, ok := j.Gap(); ok {
		if len(got) == 0 || !same(got[len(got)-1], gap) || gap.At != now {
			return 0, fmt.Errorf("the gap since the cut is %+v", gap)
		}
		got = got[:len(got)-1]
	}
	if pick != nil {
		got = pick(got)
	}
	if err := beginning(got, records); err != nil {
		return 0, err
	}
	trans, err := j.Transitions(ctx)
	if err != nil {
		return 0, err
	}
	if len(trans) < sureAlarms || len(trans) > len(alarms) {
		return 0, fmt.Errorf("%d alarms are there, %d were durable", len(trans), sureAlarms)
	}
	for i := range trans {
		if trans[i].Alarm != alarms[i].Alarm || trans[i].At != alarms[i].At {
			return 0, fmt.Errorf("alarm %d came back as %+v", i, trans[i])
		}
	}
	return len(got), goesOn(w, j, now, whole)
}

// read verifies a job and returns its records.
func read(j *store.Job) (out []capture.Record, err error) {
	if _, err := j.Verify(ctx); err != nil {
		return nil, err
	}
	if err := pictured(j); err != nil {
		return nil, err
	}
	err = j.Records(ctx, 0, 0, func(r capture.Record) error { out = append(out, r); return nil })
	return out, err
}

// beginning holds records against the beginning of what was consumed.
func beginning(got, want []capture.Record) error {
	if len(got) > len(want) {
		return fmt.Errorf("%d records are there, %d were consumed", len(got), len(want))
	}
	for i := range got {
		if !same(got[i], want[i]) {
			return fmt.Errorf("record %d came back as %+v, want %+v", i, got[i], want[i])
		}
	}
	return nil
}

// goesOn writes on, closes, opens again and reads all of it.
func goesOn(w *store.Workspace, j *store.Job, now capture.Instant, want []capture.Record) error {
	rng := rand.New(rand.NewPCG(5, 5))
	for i := range capture.Instant(20) {
		rec := reading(rng, now+1+i, 0, 100_000+uint64(i))
		j.Consume(rec)
		want = append(want, rec)
	}
	if err := j.Close(ctx); err != nil {
		return err
	}
	j, err := w.Open(jobID, now+second)
	if err != nil {
		return err
	}
	got, err := read(j)
	if err != nil {
		return err
	}
	if gap, ok := j.Gap(); ok {
		want = append(want, gap)
	}
	if len(got) != len(want) {
		return fmt.Errorf("%d records after going on, want %d", len(got), len(want))
	}
	return beginning(got, want)
}
