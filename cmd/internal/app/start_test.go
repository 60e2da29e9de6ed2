package app_test

import (
	"context"
	"errors"
	"net"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
	"steadyrail/rules/notify"
)

// The second daemon on a workspace refuses and says who holds it; the first
// goes on undisturbed.
func TestTwoDaemonsOneWorkspace(t *testing.T) {
	r := newRig(t, 1)
	before := goleak.IgnoreCurrent()
	err := r.build().Start(t.Context())
	var held *store.HeldError
	if !errors.As(err, &held) || held.PID != os.Getpid() || held.Address != r.Address() {
		t.Fatalf("second daemon: %v", err)
	}
	for _, word := range []string{strconv.Itoa(os.Getpid()), r.Address(), r.cfg.Workspace} {
		if !strings.Contains(err.Error(), word) {
			t.Errorf("%q does not name %s", err, word)
		}
	}
	if h, err := store.ReadLock(r.cfg.Workspace); err != nil || h.Address != r.Address() {
		t.Errorf("the first daemon's lock says %+v, %v", h, err)
	}
	goleak.VerifyNone(t, before, goleak.IgnoreAnyFunction("steadyrail/capture/poll.(*Loop).Run"), ignoreSim)
}

// The simulated bench serves whoever connects: its goroutines come and go.
var ignoreSim = goleak.IgnoreAnyFunction("steadyrail/drivers/sim.(*server).run")

// A daemon that cannot start takes down what it had put up, wherever it fails.
func TestStartFailsHalfWay(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	for name, c := range map[string]struct {
		with  func(*rig)
		words []string
	}{
		"port is busy": {func(r *rig) { r.cfg.Listen = taken.Addr().String() }, []string{"start listener", taken.Addr().String(), "--listen"}},
		"workspace is a file": {func(r *rig) {
			r.must(os.WriteFile(r.cfg.Workspace, nil, 0o600))
		}, []string{"start workspace", "bench"}},
		"notifier of no kind": {func(r *rig) { r.cfg.Notify = []notify.Config{{Kind: "pigeon"}} }, []string{"start notifiers", "pigeon"}},
		"standing job of a used name": {func(r *rig) {
			r.cfg.Job = &configs.JobConfig{Name: "no/name", Rails: sheet(t, jobID).Rails}
		}, []string{"start jobs", "no/name"}},
	} {
		t.Run(name, func(t *testing.T) {
			r := newBench(t, 5)
			before := goleak.IgnoreCurrent()
			c.with(r)
			a := r.build()
			err := a.Start(t.Context())
			if err == nil {
				t.Fatal("it started")
			}
			for _, w := range c.words {
				if !strings.Contains(err.Error(), w) {
					t.Errorf("%q does not say %q", err, w)
				}
			}
			if _, err := store.ReadLock(r.cfg.Workspace); err == nil {
				t.Error("the workspace is still held")
			}
			if err := a.Stop(t.Context()); err != nil {
				t.Errorf("stopping what did not start: %v", err)
			}
			goleak.VerifyNone(t, before, ignoreSim)
		})
	}
}

func TestStartTwiceStopTwice(t *testing.T) {
	r := newRig(t, 1)
	if err := r.Start(t.Context()); !errors.Is(err, app.ErrStarted) {
		t.Errorf("second start: %v", err)
	}
	r.stop()
	r.stop()
	if err := r.Start(t.Context()); !errors.Is(err, app.ErrStarted) {
		t.Errorf("start after the end: %v", err)
	}
}

// Before its start an App can be asked everything and has nothing to say.
func TestNothingBeforeStart(t *testing.T) {
	r := newBench(t, 1)
	a := r.build()
	if a.Address() != "" || a.Token() != "" || len(a.Snapshot().Jobs) != 0 {
		t.Errorf("%q %q %+v", a.Address(), a.Token(), a.Snapshot())
	}
}

// Whatever was filed before the stop is in the file after it, and an alarm
// raised right before is still told.
func TestStopLosesNothing(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	r := newRig(t, 20, func(c *configs.Config) { c.Notify = []notify.Config{hook(url)} })
	r.soak()
	r.fault("input joint", "10s")
	r.until("an alarm, and readings enough", func(s live.Snapshot) bool {
		_, ok := alarm(s, "collapse", five)
		return ok && len(r.seen.filed(jobID)) >= 100
	})
	r.stop()
	next(t, got, "collapse", "active")

	kept := map[capture.Instant]capture.Reading{}
	rec := r.read(jobID)
	for _, one := range rec.records {
		if v, ok := one.Item.(capture.Reading); ok {
			kept[one.At] = v
		}
	}
	filed := r.seen.filed(jobID)
	if len(filed) != len(kept) {
		t.Errorf("%d readings were filed, %d are kept", len(filed), len(kept))
	}
	for _, one := range filed {
		if kept[one.At] != one.Item.(capture.Reading) {
			t.Errorf("at %s %+v was filed and %+v kept", one.At, one.Item, kept[one.At])
		}
	}
}

// Stopped and started again, the job goes on: the time between is a gap, the
// latched alarm is still there and can be answered, ordinals count on, probes
// stand where they stood, and the whole judged again says the same.
func TestJobGoesOn(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.soak()
	r.fault("input joint", "5s")
	s := r.until("a latched alarm", func(s live.Snapshot) bool {
		a, ok := alarm(s, "collapse", five)
		return ok && a.To == capture.Latched
	})
	latched, _ := alarm(s, "collapse", five)
	first := r.ordinal(volts(sim.DMM))
	r.stop()
	stopped := r.clock.Now()
	r.clock.SetSpeed(100)
	fire, _ := r.clock.After(20 * time.Second)
	<-fire
	r.clock.SetSpeed(5)

	r.start()
	s = r.Snapshot()
	if again, ok := alarm(s, "collapse", five); !ok || again.Alarm != latched.Alarm || again.To != capture.Latched {
		t.Errorf("the latched alarm is %+v", again)
	}
	j, _ := s.Job(jobID)
	if j.Stage != capture.Soak || len(j.Rails) != len(clips) || !j.Rails[0].Live || j.Rails[0].Placement.Hold != capture.Clipped {
		t.Errorf("the job came back as %+v", j)
	}
	r.until("it reads on", func(s live.Snapshot) bool { return r.ordinal(volts(sim.DMM)) > first+20 })
	r.act(capture.Act{Verb: capture.ActHeard, Subject: latched.Alarm})
	r.act(capture.Act{Verb: capture.ActReset, Subject: latched.Alarm})
	r.fault("input joint", "5s")
	r.until("another alarm", func(s live.Snapshot) bool { _, ok := alarm(s, "collapse", five); return ok })
	r.stop()

	rec := r.read(jobID)
	gaps := 0
	ordinals := map[capture.ChannelID]uint64{}
	for _, one := range rec.records {
		switch it := one.Item.(type) {
		case capture.Gap:
			gaps++
			if it.From > stopped || stopped.Sub(it.From) > 10*time.Second || it.To.Sub(it.From) < 20*time.Second {
				t.Errorf("gap %+v; it stopped at %s", it, stopped)
			}
		case capture.Reading:
			if it.Ordinal != ordinals[it.Channel]+1 {
				t.Fatalf("%s: ordinal %d follows on %d", it.Channel, it.Ordinal, ordinals[it.Channel])
			}
			ordinals[it.Channel] = it.Ordinal
		}
	}
	if gaps != 1 {
		t.Errorf("%d gaps", gaps)
	}
}

// Stopping while a client listens to the stream, and while a meter does not
// answer, takes no longer than it must.
func TestStopWithListeners(t *testing.T) {
	t.Parallel()
	r := newRig(t, 1)
	r.fault("mute", sim.DMM, "1000")
	c, err := net.Dial("tcp", r.Address())
	r.must(err)
	defer c.Close()
	_, err = c.Write([]byte("GET /api/v1/stream HTTP/1.1\r\nHost: " + r.Address() + "\r\n\r\n"))
	r.must(err)
	buf := make([]byte, 1)
	_, err = c.Read(buf)
	r.must(err)
	r.up = false
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := r.Stop(ctx); err != nil {
		t.Errorf("stop: %v", err)
	}
}
