package story

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/cmd/internal/paper"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
	"steadyrail/rules/coverage"
	"steadyrail/rules/trend"
)

const (
	warmUp  = 50 * time.Minute
	soakFor = 6 * time.Hour
)

// feed sets the bench supply and switches it on. Its own protection is
// programmed and read back first; software comes second.
func (s *Story) feed(ctx context.Context, amperes float64) error {
	limits := fmt.Sprintf("volts 24, amperes %.2f, over-voltage 26, over-current %.2f", amperes, amperes*1.5)
	res, err := s.App.Act(ctx, s.job, capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: limits})
	if err != nil {
		return err
	}
	s.say("  %s", res.Say)
	p, err := s.App.Permit(ctx, s.job, dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	if err != nil {
		return err
	}
	if res, err = s.App.SwitchOn(ctx, s.job, dashboards.SwitchOn{Subject: sim.Supply, Permit: p.Code}); err != nil {
		return err
	}
	s.say("  %s", res.Say)
	return nil
}

func (s *Story) off(ctx context.Context) error {
	return s.act(ctx, capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
}

func (s *Story) liveChecks(ctx context.Context) error {
	if err := s.stage(ctx, capture.LiveChecks); err != nil {
		return err
	}
	s.say("PS2 is out. 24 V from the bench supply, its current limited:")
	if err := s.feed(ctx, 1.0); err != nil {
		return err
	}
	if err := s.wait(ctx, 2*time.Second); err != nil {
		return err
	}
	for _, r := range s.sheet.Rails {
		v, err := s.read(ctx, volts, where{rail: r.Name, point: r.Point})
		if err != nil {
			return err
		}
		s.say("  %-12s %10s  %s", r.Name, text(v), s.word(r.Name))
	}
	return s.off(ctx)
}

// word is what the screen says of a rail: that it is off when it is, else how
// it lies in its band.
func (s *Story) word(rail string) string {
	if v, ok := s.verdict(rail, "missing"); ok && v.Outcome == capture.Fail {
		return v.Say
	}
	v, _ := s.verdict(rail, "band")
	return v.Say
}

func (s *Story) presetIt(ctx context.Context) error {
	if err := s.stage(ctx, capture.StandIn); err != nil {
		return err
	}
	note := "PS2 is withdrawn. A small converter is to stand in for it: 9 to 36 V in, trimmer. Whether its data sheet suits was judged by the technician, not by steadyrail."
	if err := s.act(ctx, capture.Act{Verb: capture.ActNote, Text: note}); err != nil {
		return err
	}
	s.say("%s", note)
	if err := s.stage(ctx, capture.Preset); err != nil {
		return err
	}
	if err := s.Bench.Feed(sim.FeedStandIn); err != nil {
		return err
	}
	s.say("On the bench, without load:")
	if err := s.feed(ctx, 0.2); err != nil {
		return err
	}
	r, err := s.read(ctx, volts, where{rail: rail5, point: sim.PointStandInOut, hold: capture.Clipped})
	if err != nil {
		return err
	}
	s.say("  the stand-in gives %s.", text(r))
	if r, err = s.turnTo(ctx, r, 5.0); err != nil {
		return err
	}
	s.preset = r.Value
	s.say("Preset to %s without load.", text(r))
	return s.off(ctx)
}

// turnTo turns the trimmer until the mean of the readings is within a tenth of a
// percent of the target. The first turn teaches how much a turn is worth; it
// comes from below, lifts the blade and lets the output settle before each look.
func (s *Story) turnTo(ctx context.Context, r capture.Reading, target float64) (capture.Reading, error) {
	for range 12 {
		missing := target - r.Value
		if math.Abs(missing) < target/1000 {
			return r, nil
		}
		turns := 1.0
		if missing < 0 {
			turns = -1
		}
		if s.gain != 0 {
			turns = missing / s.gain
		}
		took := s.Bench.Turn(turns)
		if err := s.act(ctx, capture.Act{Verb: capture.ActTurn, Subject: sim.StandIn, Value: turns}); err != nil {
			return r, err
		}
		before := r.Value
		var err error
		if r, err = s.mean(ctx, volts, s.Clock.Now().Add(took+time.Second)); err != nil {
			return r, err
		}
		gained := r.Value - before
		s.say("  %s of a turn %s: %s.", capture.Figure(math.Abs(turns), 0.01), direction(turns), text(r))
		if s.gain == 0 {
			s.gain = gained / turns
		}
	}
	return r, fmt.Errorf("the trimmer did not bring %s to %g V", text(r), target)
}

func direction(turns float64) string {
	if turns < 0 {
		return "down"
	}
	return "up"
}

func (s *Story) trimIt(ctx context.Context) error {
	if err := s.Bench.Plug(sim.StandIn); err != nil {
		return err
	}
	if err := s.Bench.Feed(sim.FeedBoard); err != nil {
		return err
	}
	if err := s.stage(ctx, capture.Trim); err != nil {
		return err
	}
	if err := s.fitted(ctx); err != nil {
		return err
	}
	s.say("Every rail has its own clip now:")
	if err := s.put(ctx, volts, where{rail: rail5, point: sim.Point5, hold: capture.Clipped}); err != nil {
		return err
	}
	if err := s.clipTheRest(ctx); err != nil {
		return err
	}
	if err := s.feed(ctx, 1.5); err != nil {
		return err
	}
	r, err := s.mean(ctx, volts, s.Clock.Now().Add(2*time.Second))
	if err != nil {
		return err
	}
	s.say("Under the real load %s: fit-in shift %s (leads, line, heat and load together).", text(r), capture.Volt.Text(r.Value-s.preset, 0.001))
	if r, err = s.turnTo(ctx, r, 5.0); err != nil {
		return err
	}
	s.say("Trimmed to %s under load.", text(r))
	for _, rail := range s.sheet.Rails {
		s.say("  %-12s %s", rail.Name, s.word(rail.Name))
	}
	return nil
}

// clipTheRest puts the other meters and the thermometer where they stay.
func (s *Story) clipTheRest(ctx context.Context) error {
	for meter, rail := range map[string]string{sim.DMM2: "+12 V audio", sim.DMM3: "-12 V audio", sim.DMM4: "+3.3 V DSP"} {
		if err := s.put(ctx, capture.ChannelID(meter+"/volts"), where{rail: rail, point: s.point(rail), hold: capture.Clipped}); err != nil {
			return err
		}
	}
	return s.put(ctx, celsius, where{point: sim.PointCase, hold: capture.Clipped})
}

func (s *Story) warmUp(ctx context.Context) error {
	if err := s.stage(ctx, capture.WarmUp); err != nil {
		return err
	}
	s.say("Covers on. Bench time runs as fast as the meters can follow.")
	begun, wall := s.Clock.Now(), time.Now()
	if err := s.watchRail(ctx, begun, warmUp, 10*time.Minute); err != nil {
		return err
	}
	watched := s.Clock.Now().Sub(begun)
	s.reached = watched.Seconds() / time.Since(wall).Seconds()
	r, ok := s.rail(rail5)
	if !ok || r.Volts == nil {
		return fmt.Errorf("%s: %w after the warm-up", rail5, errNothing)
	}
	series, err := s.minutes(ctx, begun)
	if err != nil {
		return err
	}
	settled := trend.Settle(series, trend.SettleOptions{Limit: s.settleLimit(r), Unit: capture.Volt, Resolution: r.Volts.Reading.Resolution})
	line := fmt.Sprintf("after %.0f min %s. %s", watched.Minutes(), text(r.Volts.Reading), settled.Say)
	s.say("%s %s", rail5, line) // in the entry the subject stands before it
	if !settled.Settled {
		s.say("At a real bench one would wait. The story goes on, and the record says that it was not settled.")
	}
	return s.act(ctx, capture.Act{Verb: capture.ActFinding, Subject: rail5, Text: line})
}

// minutes returns the means of +5 V over about a minute each, from the record:
// the load wanders faster than the warmth.
func (s *Story) minutes(ctx context.Context, from capture.Instant) ([]trend.Point, error) {
	now := s.Clock.Now()
	list, err := s.App.Series(ctx, s.job, rail5, capture.DCVoltage, from, now, max(1, int(now.Sub(from).Minutes())))
	var out []trend.Point
	for _, b := range list {
		if b.N > 0 {
			out = append(out, trend.Point{At: b.From + (b.To-b.From)/2, V: b.Mean})
		}
	}
	return out, err
}

// watchRail lets bench time pass until the stage that began at begun is so
// long, and says now and then how +5 V stands. What comes between two calls
// does not start the count anew: a soak tells one row of minutes.
func (s *Story) watchRail(ctx context.Context, begun capture.Instant, long, every time.Duration) error {
	next := s.Clock.Now().Add(every)
	return s.watch(ctx, func(snap live.Snapshot) bool {
		if r, ok := railOf(snap, s.job, rail5); ok && r.Volts != nil && r.Volts.Reading.Good() && snap.Now > next {
			next = snap.Now.Add(every)
			s.say("  after %3.0f min: %s, the stand-in's case at %s.", snap.Now.Sub(begun).Minutes(), text(r.Volts.Reading), s.caseAt(snap))
		}
		// The story has its length, and ends on time on a slow computer too.
		return snap.Now.Sub(begun) >= long || s.left() <= least
	})
}

func (s *Story) caseAt(snap live.Snapshot) string {
	if c, ok := snap.Channel(celsius); ok && c.Last != nil {
		return text(c.Last.Reading)
	}
	return "no reading"
}

func railOf(snap live.Snapshot, job, name string) (live.RailView, bool) {
	j, ok := snap.Job(job)
	if !ok {
		return live.RailView{}, false
	}
	for _, r := range j.Rails {
		if r.Rail.Name == name {
			return r, true
		}
	}
	return live.RailView{}, false
}

func (s *Story) rail(name string) (live.RailView, bool) {
	return railOf(s.App.Snapshot(), s.job, name)
}

// The demo's script lets a joint at the stand-in's input fail for jointOpen,
// when a third of the soak is over.
const jointOpen = 1200 * time.Millisecond

// plan is how long the soak can be: six hours, or what this computer can
// follow in the time that the chapter has, in steps of ten minutes.
func (s *Story) plan() time.Duration {
	const step = 10 * time.Minute
	can := time.Duration(0.8 * s.reached * float64(s.left())).Truncate(step)
	return max(min(can, soakFor), step)
}

func (s *Story) soak(ctx context.Context) error {
	if err := s.stage(ctx, capture.Soak); err != nil {
		return err
	}
	planned := s.plan()
	if err := s.act(ctx, capture.Act{Verb: capture.ActSoak, Text: "start", Value: planned.Seconds()}); err != nil {
		return err
	}
	begun := s.Clock.Now()
	s.say("Soak of %s, covers on.", coverage.Long(planned))
	if err := s.watchRail(ctx, begun, planned/3, planned/6); err != nil {
		return err
	}
	if err := s.collapse(ctx); err != nil {
		return err
	}
	s.pace(planned - s.Clock.Now().Sub(begun))
	if err := s.watchRail(ctx, begun, planned, planned/6); err != nil {
		return err
	}
	return s.act(ctx, capture.Act{Verb: capture.ActSoak, Text: "stop"})
}

// collapse lets the joint fail in real time, waits for what the rules make of
// it, and answers as a technician would.
func (s *Story) collapse(ctx context.Context) error {
	s.slow(1)
	s.say("Time runs as on the wall for a moment: a joint at the stand-in's input opens for %.1f s.", jointOpen.Seconds())
	began := s.Clock.Now()
	if err := s.Bench.Fault("input joint", jointOpen.String()); err != nil {
		return err
	}
	var raised capture.Transition
	err := s.watch(ctx, func(snap live.Snapshot) bool {
		j, _ := snap.Job(s.job)
		for _, t := range j.Alarms {
			if t.Kind == "collapse" && t.Rail == rail5 && t.Raised > began {
				raised = t
				return true
			}
		}
		return snap.Now.Sub(began) > 20*time.Second
	})
	if err != nil {
		return err
	}
	if raised.Alarm == "" {
		s.say("No meter saw it: it was shorter than they can see. The record claims nothing.")
		return nil
	}
	if err := s.watch(ctx, func(snap live.Snapshot) bool { return gone(snap, s.job, raised.Alarm) }); err != nil {
		return err
	}
	if s.Alarmed != nil {
		s.Alarmed(ctx)
	}
	for _, v := range []capture.Verb{capture.ActHeard, capture.ActReset} {
		if err := s.act(ctx, capture.Act{Verb: v, Subject: raised.Alarm}); err != nil {
			return err
		}
	}
	r, _ := s.rail(rail5)
	if r.Volts != nil {
		s.say("Heard, latch reset. %s is at %s again; the alarm stays on record.", rail5, text(r.Volts.Reading))
	}
	return nil
}

func (s *Story) signOff(ctx context.Context) error {
	if err := s.stage(ctx, capture.SignOff); err != nil {
		return err
	}
	if err := paper.Write(s.reportPath(), func(w io.Writer) error { return s.App.Report(ctx, s.job, w) }); err != nil {
		return err
	}
	d, err := s.App.Dossier(ctx, s.job)
	if err != nil {
		return err
	}
	for _, line := range d.Soak.Say {
		s.say("%s", line)
	}
	if !d.Soak.Passed {
		s.say("The soak has not passed: this set is not fit to sign off. The report says why.")
	}
	return nil
}

// gone reports whether the condition of an alarm has gone.
func gone(snap live.Snapshot, job, alarm string) bool {
	j, _ := snap.Job(job)
	for _, t := range j.Alarms {
		if t.Alarm == alarm {
			return !t.To.IsActive()
		}
	}
	return true
}

// settleLimit is how little may remain for a rail to count as settled: the
// smaller of a tenth of its band and a third of the meter's uncertainty.
func (s *Story) settleLimit(r live.RailView) float64 {
	limit := r.Rail.Bounds.Width() / 10
	if v, ok := s.verdict(r.Rail.Name, "band"); ok && v.Uncertainty > 0 {
		limit = min(limit, v.Uncertainty/3)
	}
	return limit
}
