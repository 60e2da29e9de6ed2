package app

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// Of two jobs' plans one waits for an instrument that never answers: the other is
// looked at as often as ever. Each owner ends when its job does, is not there while
// it is held, and all end with the daemon; synctest finds one that stays.
func TestEachPlanHasItsOwner(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		var owners sync.WaitGroup
		var mute, well planOwner
		var waiting, looks, ended atomic.Int32
		begin := func() {
			mute.begin(ctx, &owners, func(ctx context.Context) {
				waiting.Add(1)
				<-ctx.Done()
				ended.Add(1)
			})
			well.begin(ctx, &owners, func(context.Context) { looks.Add(1) })
		}
		begin()
		begin() // the next look of whoever starts them: they are there
		time.Sleep(40*planEvery + planEvery/2)
		if waiting.Load() != 1 || looks.Load() != 41 {
			t.Errorf("%d wait, the other was looked at %d times", waiting.Load(), looks.Load())
		}
		mute.hold() // its job is being closed
		if ended.Load() != 1 {
			t.Error("its job is closed, and its owner there")
		}
		begin()
		time.Sleep(4 * planEvery)
		if waiting.Load() != 1 {
			t.Error("a job that is being closed has an owner again")
		}
		mute.hold() // another closes it at the same time
		mute.goOn() // it could not be closed by the first
		begin()
		synctest.Wait()
		if waiting.Load() != 1 {
			t.Error("a job that the other is still closing has an owner again")
		}
		mute.goOn() // nor by the other
		begin()
		synctest.Wait()
		if waiting.Load() != 2 {
			t.Error("its job goes on, and nobody looks after its plan")
		}
		stop()
		owners.Wait()
		if ended.Load() != 2 {
			t.Error("the daemon has ended, and an owner is there")
		}
		well.hold() // of a job whose file is let go after that
	})
}
