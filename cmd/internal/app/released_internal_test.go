package app

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"

	"steadyrail/capture"
)

// What is kept of a job goes with it; of the job before it only when nobody else is
// compared with that.
func TestReturnsAreReleased(t *testing.T) {
	var r returns
	keep := func(id, before string) {
		r.keep(id, before, capture.Dossier{}, compared{1, &capture.Return{Job: before}})
	}
	keep("two", "one")
	keep("three", "one")
	r.forget("two")
	if c, _, left := r.known("two", "one"); c.out != nil || !left {
		t.Errorf("%+v %t", c, left)
	}
	r.forget("never")
	r.forget("three")
	if len(r.now)+len(r.left) != 0 {
		t.Errorf("%d %d are kept", len(r.now), len(r.left))
	}
}

// Whoever works out one job's comparison holds up those who ask for the same, and
// nobody else.
func TestComparisonsDoNotWaitForEachOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var r returns
		end, err := r.alone(t.Context(), "two")
		if err != nil {
			t.Fatal(err)
		}
		other, err := r.alone(t.Context(), "three")
		if err != nil {
			t.Fatal(err)
		}
		other()
		ctx, cancel := context.WithCancel(t.Context())
		failed := make(chan error)
		go func() { _, err := r.alone(ctx, "two"); failed <- err }()
		synctest.Wait()
		cancel()
		if err := <-failed; !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		got := make(chan func())
		go func() { end, _ := r.alone(t.Context(), "two"); got <- end }()
		synctest.Wait()
		end()
		(<-got)()
		if len(r.busy) != 0 {
			t.Error("somebody is busy")
		}
	})
}

// The walk of a closed job is let go, one that goes on is not.
func TestWalksAreReleased(t *testing.T) {
	w := walks{byJob: map[string]*walking{"one": {over: true}, "two": {}}}
	w.forget("one")
	w.forget("two")
	w.forget("three")
	if len(w.byJob) != 1 || w.byJob["two"] == nil {
		t.Errorf("%d are kept", len(w.byJob))
	}
}
