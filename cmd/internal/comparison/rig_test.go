package comparison

import (
	"context"
	"math"
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
	"steadyrail/rules/notify"
)

const (
	five  = "+5 V logic"
	jobID = "AB-0147"
	volts = capture.ChannelID(sim.DMM + "/volts")
	// pollEvery is how often the +5 V is read: every 200 ms, dithered.
	pollEvery = 200 * time.Millisecond
)

// rig is a daemon on the simulated bench: the stand-in is fitted and trimmed,
// the board has its 24 V, a meter is clipped to +5 V, the job is in its soak.
type rig struct {
	tb        testing.TB
	app       *app.App
	bench     *sim.Bench
	clock     *sim.Clock
	workspace string
	stopped   bool
}

// patience bounds every waiting, in wall time; only what hangs reaches it.
const patience = 60 * time.Second

// newRig starts bench and daemon with these rails, which post to hook. What is
// unplugged stays off the board.
func newRig(tb testing.TB, rails, hook string, unplugged ...string) *rig {
	tb.Helper()
	clock := sim.NewClock(capture.InstantOf(time.Now()), 1)
	r := &rig{tb: tb, clock: clock, bench: sim.NewBench(clock, 88, sim.Scenario{}), workspace: filepath.Join(tb.TempDir(), "bench")}
	r.must(r.bench.Start(context.Background()))
	tb.Cleanup(r.bench.Close)
	for _, part := range append([]string{sim.PS2}, unplugged...) {
		r.must(r.bench.Unplug(part))
	}
	r.must(r.bench.Plug(sim.StandIn))
	r.must(r.bench.Touch(sim.DMM, sim.Point5, capture.Clipped))
	r.begin(hook)
	r.open(rails)
	r.power()
	return r
}

// begin starts the daemon and waits until its instruments have answered.
func (r *rig) begin(hook string) {
	r.tb.Helper()
	models, err := drivers.LoadModels("")
	r.must(err)
	links := r.bench.Links()
	cfg := &configs.Config{
		Bench: "east", Workspace: r.workspace, Listen: "127.0.0.1:0", Models: models,
		Instruments: []drivers.Config{
			{Name: sim.DMM, Model: "scpi-multimeter", Link: links[sim.DMM], Every: pollEvery, Simulated: true},
			{Name: sim.Supply, Model: "scpi-supply", Link: links[sim.Supply] + "?answer=5s", Every: time.Second, Simulated: true,
				Acts: []string{"output", "limits"}, OnExit: "leave"},
		},
		Notify: []notify.Config{{Kind: "webhook", URL: hook, GroupAfter: 1 << 30}},
	}
	r.app, err = app.New(app.Options{Config: cfg, Clock: r.clock, Version: "test", Simulated: true, Speed: r.clock.Speed})
	r.must(err)
	r.must(r.app.Start(r.tb.Context()))
	r.tb.Cleanup(r.stop)
	r.until("both instruments are up", func(s live.Snapshot) bool {
		for _, in := range s.Instruments {
			if !in.Up {
				return false
			}
		}
		return len(s.Instruments) == 2
	})
}

// stop ends the daemon. Twice is harmless.
func (r *rig) stop() {
	if r.stopped {
		return
	}
	r.stopped = true
	if err := r.app.Stop(context.Background()); err != nil {
		r.tb.Errorf("stop the daemon: %v", err)
	}
}

func (r *rig) open(line string) {
	r.tb.Helper()
	rails, err := capture.ParseRails(line)
	r.must(err)
	_, err = r.app.OpenJob(r.tb.Context(), capture.Sheet{Job: jobID, Set: "Alderbrook 88 stage piano", Technician: "R. Hale", Rails: rails})
	r.must(err)
	r.clip(volts)
}

// power switches the supply on, trims the stand-in by the truth, for trimming
// is not what is compared here, and begins the soak.
func (r *rig) power() {
	r.tb.Helper()
	defer r.clock.Steady(20 * time.Millisecond)() // not where wall time is compared with bench time
	r.cold()
	r.clock.SetSpeed(8)
	defer r.clock.SetSpeed(1)
	r.act(capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "volts 24, amperes 2, over-voltage 26, over-current 3"})
	permit, err := r.app.Permit(r.tb.Context(), jobID, dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	r.must(err)
	_, err = r.app.SwitchOn(r.tb.Context(), jobID, dashboards.SwitchOn{Subject: sim.Supply, Permit: permit.Code})
	r.must(err)
	r.pass(time.Second)
	for range 4 {
		const voltsPerTurn = 0.040
		r.pass(r.bench.Turn((5-r.truth(sim.Point5))/voltsPerTurn) + 200*time.Millisecond)
	}
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "nothing but the soak is compared"})
	r.until("the +5 V is watched", func(s live.Snapshot) bool {
		v, ok := verdict(s, "collapse")
		return ok && v.Outcome == capture.Pass
	})
}

// cold takes the +5 V through its cold check, which power asks for, at the pace of
// hands: that the rail is dead holds for a minute, and its capacitors charge. On a
// computer that is too busy for that minute it is proven dead once more.
func (r *rig) cold() {
	r.tb.Helper()
	r.clock.SetSpeed(2)
	for passed := false; !passed; {
		r.clip(volts)
		since := r.clock.Now()
		r.until("the +5 V is proven dead", func(s live.Snapshot) bool {
			c, ok := s.Channel(volts)
			return ok && c.Last != nil && c.Last.At >= since && c.Last.Reading.Good() && math.Abs(c.Last.Reading.Value) < 0.04
		})
		r.clip(sim.DMM + "/ohms")
		r.until("the cold check has passed", func(s live.Snapshot) bool {
			v, ok := verdict(s, "short")
			passed = ok && v.Outcome == capture.Pass
			return passed || ok && v.Outcome == capture.ConditionalFail && v.From > since // touched too late
		})
	}
	r.clip(volts)
}

// clip clips a channel of the meter to the +5 V.
func (r *rig) clip(ch capture.ChannelID) {
	r.tb.Helper()
	_, err := r.app.Place(r.tb.Context(), jobID, capture.Placement{Channel: ch, Rail: five, Point: sim.Point5, Return: "0 V", Hold: capture.Clipped})
	r.must(err)
}

func verdict(s live.Snapshot, kind string) (capture.Verdict, bool) {
	j, _ := s.Job(jobID)
	for _, rail := range j.Rails {
		for _, v := range rail.Verdicts {
			if v.Rail == five && v.Kind == kind {
				return v, true
			}
		}
	}
	return capture.Verdict{}, false
}

// alarm returns the newest state of the collapse of +5 V; Normal when there is
// none.
func (r *rig) alarm() capture.AlarmState {
	j, _ := r.app.Snapshot().Job(jobID)
	for _, t := range j.Alarms {
		if t.Kind == "collapse" && t.Rail == five {
			return t.To
		}
	}
	return capture.Normal
}

func (r *rig) must(err error) {
	r.tb.Helper()
	if err != nil {
		r.tb.Fatal(err)
	}
}

func (r *rig) act(a capture.Act) {
	r.tb.Helper()
	_, err := r.app.Act(r.tb.Context(), jobID, a)
	r.must(err)
}

func (r *rig) truth(name string) float64 {
	r.tb.Helper()
	v, err := r.bench.Truth(name)
	r.must(err)
	return v
}

// pass lets bench time pass.
func (r *rig) pass(d time.Duration) {
	r.tb.Helper()
	due, giveUp := r.clock.After(d)
	defer giveUp()
	select {
	case <-due:
	case <-r.tb.Context().Done():
		r.tb.Fatal("the test is over")
	}
}

// until waits for the bench to look as wanted.
func (r *rig) until(what string, done func(live.Snapshot) bool) {
	r.tb.Helper()
	changed, cancel := r.app.Subscribe()
	defer cancel()
	late := time.NewTimer(patience)
	defer late.Stop()
	for !done(r.app.Snapshot()) {
		select {
		case <-changed:
		case <-late.C:
			r.tb.Fatalf("waited %s in vain: %s", patience, what)
		}
	}
}
