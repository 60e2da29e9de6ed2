package app

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// Who wants to switch on waits while an injection is being ended: its insisting on off
// would take that away. Nothing else of the output begins before, either.
func TestNothingGoesOnWhileAnInjectionIsBeingEnded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var i injecting
		run := i.begin("AB-0147", "psu/1")
		if err := i.settle(t.Context(), "psu"); err != nil || !i.on("psu/1") {
			t.Errorf("one that is under way was waited for: %v", err)
		}
		i.over("psu")
		if i.begin("AB-0147", "psu/1") != nil || i.begin("AB-0148", "psu") != nil {
			t.Error("another began while it is being ended")
		}
		asked, leave := context.WithCancel(t.Context())
		defer leave()
		settled := make(chan error, 1)
		for _, ctx := range []context.Context{asked, t.Context()} {
			go func() { settled <- i.settle(ctx, "psu") }()
			synctest.Wait()
			if len(settled) != 0 {
				t.Fatal("switched on before it was over")
			}
			if ctx == asked {
				leave()
				var e *dashboards.Error
				if err := <-settled; !errors.As(err, &e) || e.Kind != dashboards.Unavailable {
					t.Errorf("%v", err)
				}
			}
		}
		i.finish(run, nil)
		if err := <-settled; err != nil {
			t.Error(err)
		}
		if i.begin("AB-0147", "psu/1") == nil {
			t.Error("none began when it was over")
		}
	})
}

// An off from before an injection says nothing of it: an on that nothing confirmed may
// hold. One since does.
func TestAnOffFromBeforeIsNotItsEnd(t *testing.T) {
	var j openJob
	act := func(text string) {
		j.outputs.Consume(capture.Record{Item: capture.Act{Verb: capture.ActOutput, Subject: "psu", Text: text}})
	}
	act("off")
	run := &injectionRun{output: "psu", turn: j.turnOf("psu")}
	if j.wentOffSince(run) {
		t.Error("the older off was taken for its end")
	}
	act("on")
	if j.wentOffSince(run) {
		t.Error("it is on")
	}
	act("off")
	if !j.wentOffSince(run) {
		t.Error("it was switched off by hand")
	}
}
