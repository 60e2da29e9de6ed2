package app_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"net/http"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
	"steadyrail/rules"
)

func TestMain(m *testing.M) {
	// These tests wait for meters more than they compute, except under the
	// race detector.
	if !raced {
		if err := flag.Set("test.parallel", "8"); err != nil {
			panic(err)
		}
	}
	goleak.VerifyTestMain(m)
}

const (
	five    = "+5 V logic"
	twelve  = "+12 V audio"
	minus12 = "-12 V audio"
	dsp     = "+3.3 V DSP"
	oneLine = "+5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP"
	jobID   = "AB-0147"
)

// clips are the meters that stay on a rail each.
var clips = []struct {
	meter, rail, point string
}{
	{sim.DMM, five, sim.Point5}, {sim.DMM2, twelve, sim.Point12}, {sim.DMM3, minus12, sim.PointMinus12}, {sim.DMM4, dsp, sim.Point3},
}

// rig is a daemon on the simulated bench, with real ports, drivers and files.
type rig struct {
	*app.App
	t     testing.TB
	bench *sim.Bench
	clock *sim.Clock
	seen  *witness
	cfg   configs.Config
	out   *talk
	up    bool

	reread  func() (*configs.Config, []configs.Problem) // nil: there is no file
	inhibit func(why string) (func(), error)            // nil: nothing is kept awake
}

// newRig starts a bench whose time runs so fast and a daemon on it. Whatever
// with does to the configuration happens before.
func newRig(t testing.TB, speed float64, with ...func(*configs.Config)) *rig {
	t.Helper()
	r := newBench(t, speed, with...)
	r.start()
	return r
}

// longAnswer is how long the supply of a rig may take, instead of its model's
// 250 ms: a test that switches it on is no test of how busy the computer is.
const longAnswer = "?answer=5s"

// brisk has a mute supply given up sooner.
func brisk(c *configs.Config) {
	for i := range c.Instruments {
		if in := &c.Instruments[i]; in.Name == sim.Supply {
			in.Link = strings.TrimSuffix(in.Link, longAnswer) + "?answer=1s"
		}
	}
}

// newBench is newRig without the start.
func newBench(t testing.TB, speed float64, with ...func(*configs.Config)) *rig {
	t.Helper()
	clock := sim.NewClock(capture.InstantOf(time.Now()), speed)
	r := &rig{t: t, clock: clock, bench: sim.NewBench(clock, 88, sim.Scenario{}), seen: &witness{}, out: &talk{}}
	r.must(r.bench.Start(context.Background()))
	t.Cleanup(r.bench.Close)
	t.Cleanup(clock.Steady(20 * time.Millisecond))
	models, err := drivers.LoadModels("")
	r.must(err)
	r.cfg = configs.Config{Bench: "east", Workspace: filepath.Join(t.TempDir(), "bench"), Listen: "127.0.0.1:0", Models: models}
	links := r.bench.Links()
	for _, name := range []string{sim.DMM, sim.DMM2, sim.DMM3, sim.DMM4} {
		r.cfg.Instruments = append(r.cfg.Instruments, drivers.Config{
			Name: name, Model: "scpi-multimeter", Link: links[name], Every: 200 * time.Millisecond, Simulated: true,
			Isolation: capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300},
		})
	}
	r.cfg.Instruments = append(r.cfg.Instruments,
		drivers.Config{Name: sim.Supply, Model: "scpi-supply", Link: links[sim.Supply] + longAnswer, Every: 500 * time.Millisecond, Simulated: true,
			Acts: []string{"output", "limits"}, OnExit: "leave", Isolation: capture.Isolation{Port: "earthed", Output: "floating"}},
		drivers.Config{Name: sim.Thermo, Model: "scpi-thermometer", Link: links[sim.Thermo], Every: time.Second, Simulated: true})
	for _, f := range with {
		f(&r.cfg)
	}
	return r
}

// build makes the next daemon of the bench.
func (r *rig) build() *app.App {
	r.t.Helper()
	cfg := r.cfg
	a, err := app.New(app.Options{Config: &cfg, Clock: r.clock, Version: "test", Talk: r.out, Simulated: true, Speed: r.clock.Speed, Faults: r.bench.FaultHandler(), Watch: r.seen, Inhibit: r.inhibit, Reread: r.reread})
	r.must(err)
	return a
}

// start starts the next daemon and waits until every instrument has answered.
func (r *rig) start() {
	r.t.Helper()
	r.App = r.build()
	r.must(r.Start(r.t.Context()))
	r.up = true
	r.t.Cleanup(func() {
		if r.up {
			r.stop()
		}
	})
	r.until("every instrument is up", func(s live.Snapshot) bool {
		for _, in := range s.Instruments {
			if !in.Up {
				return false
			}
		}
		return true
	})
}

func (r *rig) stop() {
	r.t.Helper()
	r.up = false
	if err := r.Stop(context.Background()); err != nil {
		r.t.Errorf("stop: %v", err)
	}
}

func (r *rig) must(err error) {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
}

// patience bounds every waiting, in wall time; only what hangs reaches it, and a
// computer that does twenty other things needs a while.
const patience = 90 * time.Second

// until waits for the bench to look as wanted.
func (r *rig) until(what string, done func(live.Snapshot) bool) live.Snapshot {
	r.t.Helper()
	changed, cancel := r.Subscribe()
	defer cancel()
	late := time.NewTimer(patience)
	defer late.Stop()
	for {
		s := r.Snapshot()
		if done(s) {
			return s
		}
		select {
		case <-changed:
		case <-late.C:
			for _, in := range s.Instruments {
				r.t.Logf("%s up %t: %s", in.Info.Name, in.Up, in.Problem)
			}
			r.t.Fatalf("it never came to this: %s", what)
		}
	}
}

// pass lets bench time pass, by the readings of a meter.
func (r *rig) pass(d time.Duration) {
	r.t.Helper()
	end := r.clock.Now().Add(d)
	r.until("time passes", func(s live.Snapshot) bool { return s.Now > end })
}

// readings waits until so many more good readings of a channel were filed,
// however long the computer needs for them.
func (r *rig) readings(ch capture.ChannelID, more int) {
	r.t.Helper()
	count := func() (n int) {
		for _, rec := range r.seen.filed(jobID) {
			if it, ok := rec.Item.(capture.Reading); ok && it.Channel == ch && it.Good() {
				n++
			}
		}
		return n
	}
	want := count() + more
	r.until(fmt.Sprintf("%d more readings of %s", more, ch), func(live.Snapshot) bool { return count() >= want })
}

func (r *rig) fault(name string, words ...string) {
	r.t.Helper()
	r.must(r.bench.Fault(name, words...))
}

func (r *rig) act(a capture.Act) dashboards.Result {
	r.t.Helper()
	res, err := r.Act(r.t.Context(), "", a)
	r.must(err)
	return res
}

// insist is act for an instrument that may be too slow for it once, on a computer
// that is busy.
func (r *rig) insist(a capture.Act) {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		r.untilUp(a.Subject, true)
		_, err := r.Act(r.t.Context(), "", a)
		if err == nil {
			return
		}
		var e *dashboards.Error
		if !errors.As(err, &e) || e.Kind != dashboards.Unavailable || time.Now().After(end) {
			r.t.Fatal(err)
		}
	}
}

// sheet is a job's sheet with the four rails of the Alderbrook.
func sheet(t testing.TB, id string) capture.Sheet {
	t.Helper()
	rails, err := capture.ParseRails(oneLine)
	if err != nil {
		t.Fatal(err)
	}
	for i := range rails {
		if rails[i].Name == dsp {
			rails[i].FedFrom = five
		}
	}
	return capture.Sheet{Job: id, Set: "Alderbrook 88 stage piano", Technician: "R. Hale", Rails: rails}
}

func (r *rig) open(id string) {
	r.t.Helper()
	_, err := r.OpenJob(r.t.Context(), sheet(r.t, id))
	r.must(err)
}

// put moves a probe as a technician does: off, said, on.
func (r *rig) put(meter, rail, point string, hold capture.Hold) {
	r.t.Helper()
	r.must(r.bench.Lift(meter))
	r.place(capture.Placement{Channel: volts(meter), Rail: rail, Point: point, Hold: hold})
	r.must(r.bench.Touch(meter, point, hold))
}

func volts(meter string) capture.ChannelID { return capture.ChannelID(meter + "/volts") }

// soak opens a job and brings the set to where it soaks: the stand-in fitted
// and trimmed, every rail clipped and in its band.
func (r *rig) soak() {
	r.t.Helper()
	r.powered()
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "a test begins here"})
	r.pass(4 * time.Second)
}

// powered is soak before any rule about voltage is armed.
func (r *rig) powered() {
	r.t.Helper()
	r.open(jobID)
	r.must(r.bench.Unplug(sim.PS2))
	r.must(r.bench.Plug(sim.StandIn))
	r.bench.Turn(6.2)
	r.cold()
	r.on()
	for _, c := range clips {
		r.put(c.meter, c.rail, c.point, capture.Clipped)
	}
	r.pass(10 * time.Second)
	r.until("every rail is in its band", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		for _, rail := range j.Rails {
			if rail.Volts == nil || !rail.Volts.Reading.Good() || !rail.Rail.Bounds.Contains(rail.Volts.Reading.Value) {
				return false
			}
		}
		return len(j.Rails) == len(clips)
	})
}

// cold takes every rail through its cold check, by as many hands as there are
// meters and at their pace: proven dead, then its ohms.
func (r *rig) cold() {
	r.t.Helper()
	defer r.clock.SetSpeed(r.clock.Speed())
	r.clock.SetSpeed(min(r.clock.Speed(), 2))
	passed := map[string]bool{}
	for len(passed) < len(clips) { // a proof that a rail is dead ages: a busy computer needs another
		r.dead()
		r.judgedCold(passed)
	}
	for _, c := range clips {
		r.place(capture.Placement{Channel: capture.ChannelID(c.meter + "/ohms")})
	}
}

// dead clips the meters to the rails and waits until they are proven dead.
func (r *rig) dead() {
	r.t.Helper()
	for _, c := range clips {
		r.must(r.bench.Lift(c.meter))
		r.must(r.bench.Touch(c.meter, c.point, capture.Clipped))
		r.place(capture.Placement{Channel: volts(c.meter), Rail: c.rail, Point: c.point, Hold: capture.Clipped})
	}
	since := r.clock.Now()
	r.until("every rail is proven dead", func(s live.Snapshot) bool {
		j, _ := s.Job("")
		for _, c := range clips {
			rail := j.Rails[slices.IndexFunc(j.Rails, func(v live.RailView) bool { return v.Rail.Name == c.rail })]
			if rail.Volts == nil || rail.Volts.At < since || !rail.Volts.Reading.Good() || math.Abs(rail.Volts.Reading.Value) > 0.04 {
				return false
			}
		}
		return true
	})
}

// judgedCold reads the rails in ohms until all have passed, and notes which, or
// until one was touched too long after it was proven dead.
func (r *rig) judgedCold(passed map[string]bool) {
	r.t.Helper()
	for _, c := range clips {
		r.place(capture.Placement{Channel: capture.ChannelID(c.meter + "/ohms"), Rail: c.rail, Point: c.point, Hold: capture.Clipped})
	}
	begun := r.clock.Now()
	r.until("every cold check has passed", func(s live.Snapshot) bool {
		j, _ := s.Job("")
		late := false
		for _, rail := range j.Rails {
			for _, v := range rail.Verdicts {
				if v.Kind == "short" && v.Outcome == capture.Pass {
					passed[rail.Rail.Name] = true
				}
				late = late || v.Kind == "short" && v.Outcome == capture.ConditionalFail && v.From > begun
			}
		}
		return late || len(passed) == len(clips)
	})
}

// place places a channel, also on a computer that is too busy to answer in time.
func (r *rig) place(p capture.Placement) {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		r.untilUp(p.Channel.Instrument(), true)
		_, err := r.Place(r.t.Context(), "", p)
		if err == nil {
			return
		}
		r.unlessBusy(err, end)
	}
}

// unlessBusy fails the test unless an error only says that the computer is too
// busy for an instrument.
func (r *rig) unlessBusy(err error, end time.Time) {
	r.t.Helper()
	var e *dashboards.Error
	if !errors.As(err, &e) || e.Kind != dashboards.Unavailable || time.Now().After(end) {
		r.t.Fatal(err)
	}
}

// permit asks for one, and gives the code.
func (r *rig) permit(want dashboards.PermitRequest) string {
	r.t.Helper()
	p, err := r.Permit(r.t.Context(), "", want)
	r.must(err)
	return p.Code
}

// feedLimits are what the supply of the tests is set to.
const feedLimits = "volts 24, amperes 1.5, over-voltage 26, over-current 2.2"

// on switches the supply on as a person has to: limits, a permit, and the act.
func (r *rig) on() {
	r.t.Helper()
	for end := time.Now().Add(patience); ; {
		r.insist(capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: feedLimits})
		p, err := r.Permit(r.t.Context(), "", dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
		if err != nil && strings.Contains(err.Error(), "since its link was lost") && time.Now().Before(end) {
			continue // lost again since, by a computer that is too busy
		}
		r.must(err)
		if _, err = r.SwitchOn(r.t.Context(), "", dashboards.SwitchOn{Subject: sim.Supply, Permit: p.Code}); err == nil {
			return
		}
		if !strings.Contains(err.Error(), "since its link was lost") {
			r.unlessBusy(err, end)
		}
	}
}

// alarm finds an open alarm of a kind on a rail.
func alarm(s live.Snapshot, kind, rail string) (capture.Transition, bool) {
	j, _ := s.Job("")
	for _, t := range j.Alarms {
		if t.Kind == kind && t.Rail == rail {
			return t, true
		}
	}
	return capture.Transition{}, false
}

// ask sends a request to the daemon and returns status and body.
func (r *rig) ask(method, path, body string, change ...func(*http.Request)) (int, string) {
	r.t.Helper()
	req, err := http.NewRequestWithContext(r.t.Context(), method, "http://"+r.Address()+path, strings.NewReader(body))
	r.must(err)
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	for _, f := range change {
		f(req)
	}
	c := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: patience}
	resp, err := c.Do(req)
	r.must(err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	r.must(err)
	return resp.StatusCode, string(b)
}

func (r *rig) withToken(req *http.Request) { req.Header.Set("Authorization", "Bearer "+r.Token()) }

// metric returns the value of a sample whose line holds all the words.
func (r *rig) metric(words ...string) string {
	r.t.Helper()
	_, page := r.ask(http.MethodGet, "/metrics", "")
next:
	for line := range strings.Lines(page) {
		for _, w := range words {
			if strings.HasPrefix(line, "#") || !strings.Contains(line, w) {
				continue next
			}
		}
		return strings.TrimSpace(line[strings.LastIndexByte(line, ' '):])
	}
	return ""
}

// stored is everything that a job's file holds.
type stored struct {
	records     []capture.Record
	transitions []capture.Transition
}

// read reads a job's file, checks its chain, and judges it again: what comes
// out must be what is on record, to the last word.
func (r *rig) read(id string) stored {
	r.t.Helper()
	ctx := context.Background()
	f, err := store.OpenFile(filepath.Join(r.cfg.Workspace, "jobs", id+store.Extension))
	r.must(err)
	defer f.Close(ctx)
	_, err = f.Verify(ctx)
	r.must(err)
	var s stored
	r.must(f.Records(ctx, 0, 0, func(rec capture.Record) error {
		s.records = append(s.records, rec)
		return nil
	}))
	s.transitions, err = f.Transitions(ctx)
	r.must(err)
	upto, err := f.Upto(ctx)
	r.must(err)
	again, err := rules.Replay(ctx, func(yield func(capture.Record) error) error { return f.Records(ctx, 0, 0, yield) }, upto)
	r.must(err)
	if len(again) != len(s.transitions) {
		r.t.Errorf("replay gives %d transitions, %d are on record", len(again), len(s.transitions))
	}
	for i := range min(len(again), len(s.transitions)) {
		if !reflect.DeepEqual(again[i], s.transitions[i]) {
			r.t.Fatalf("transition %d:\nreplay  %+v\nstored  %+v", i, again[i], s.transitions[i])
		}
	}
	return s
}

// acts lists the acts of a verb about a subject.
func (s stored) acts(verb capture.Verb, subject string) (out []capture.Record) {
	for _, rec := range s.records {
		if a, ok := rec.Item.(capture.Act); ok && a.Verb == verb && a.Subject == subject {
			out = append(out, rec)
		}
	}
	return out
}

// readings calls f for every reading of a channel.
func (s stored) readings(ch capture.ChannelID, f func(at capture.Instant, r capture.Reading)) (n int) {
	for _, rec := range s.records {
		if r, ok := rec.Item.(capture.Reading); ok && r.Channel == ch {
			n++
			f(rec.At, r)
		}
	}
	return n
}

// witness is a bench-wide sink that remembers the readings it saw.
type witness struct {
	mu   sync.Mutex
	list []capture.Record
}

func (w *witness) Consume(rec capture.Record) {
	if _, ok := rec.Item.(capture.Reading); !ok {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.list = append(w.list, rec)
}

// filed returns the readings that were filed under a job.
func (w *witness) filed(job string) (out []capture.Record) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, rec := range w.list {
		if rec.Job == job {
			out = append(out, rec)
		}
	}
	return out
}

// talk keeps what the terminal's notifier says.
type talk struct {
	mu   sync.Mutex
	text strings.Builder
}

func (t *talk) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.text.Write(b)
}

func (t *talk) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.text.String()
}

// refused checks that an act was refused with the kind and words.
func refused(t testing.TB, what string, err error, kind dashboards.Kind, words ...string) {
	t.Helper()
	var e *dashboards.Error
	if !errors.As(err, &e) {
		t.Errorf("%s: %v", what, err)
		return
	}
	text := e.Error() + " " + e.Hint
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("%s: %q does not say %q", what, text, w)
		}
	}
	if e.Kind != kind {
		t.Errorf("%s: it is %q, want %q (%v)", what, e.Kind, kind, err)
	}
}
