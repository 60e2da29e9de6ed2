package story

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
	"steadyrail/rules/diagnose"
)

const (
	volts   capture.ChannelID = sim.DMM + "/volts"
	ohms    capture.ChannelID = sim.DMM + "/ohms"
	celsius capture.ChannelID = sim.Thermo + "/celsius"
)

const rail5 = "+5 V logic"

// sheetOf is what the technician knows of the job when it comes in: the rails
// are those that the board's sheet makes.
func sheetOf(job string) (capture.Sheet, error) {
	b, problems := configs.ParseBoard("board.yaml", []byte(configs.ExampleBoard))
	if len(problems) > 0 {
		return capture.Sheet{}, fmt.Errorf("the board's sheet: %s", problems[0])
	}
	// What feeds the board is the bench supply, which reads itself back.
	rails := slices.DeleteFunc(slices.Clone(b.Rails), func(r capture.Rail) bool {
		return slices.ContainsFunc(b.Sources, func(f diagnose.Source) bool { return f.Rail == r.Name })
	})
	for i := range rails {
		if rails[i].Name == "+3.3 V DSP" {
			rails[i].FedFrom = rail5
		}
	}
	return capture.Sheet{
		Job: job, Set: "Alderbrook 88 stage piano", Board: b.Name, SerialNumber: "004417",
		Symptom: "dead keys, hiss at power-up", Indication: "DSP fault",
		Technician: "R. Hale", Rails: rails,
	}, nil
}

// point is where a rail is probed, as the sheet has it.
func (s *Story) point(rail string) string {
	i := slices.IndexFunc(s.sheet.Rails, func(r capture.Rail) bool { return r.Name == rail })
	return s.sheet.Rails[i].Point
}

func (s *Story) takeIn(ctx context.Context) error {
	if err := s.clearBench(ctx); err != nil {
		return err
	}
	job, err := s.freeName(ctx)
	if err != nil {
		return err
	}
	if s.sheet, err = sheetOf(job); err != nil {
		return err
	}
	if _, err := s.App.OpenJob(ctx, s.sheet); err != nil {
		return err
	}
	s.job = job
	if _, err := s.App.Isolator().File(ctx, job, dashboards.IsolateAsk{Sheet: configs.ExampleBoard}); err != nil {
		return err
	}
	s.say("Job %s: %s. Symptom: %s. Of itself the set says %q: an indication, not evidence. Its board has a sheet.", job, s.sheet.Set, s.sheet.Symptom, s.sheet.Indication)
	if err := s.put(ctx, celsius, where{point: sim.PointRoom, hold: capture.Clipped}); err != nil {
		return err
	}
	return s.watch(ctx, func(snap live.Snapshot) bool {
		c, ok := snap.Channel(celsius)
		if !ok || c.Last == nil || !c.Last.Reading.Good() {
			return false
		}
		s.say("First reading %.1f s after the start, through %s: the room is at %s.", time.Since(s.Since).Seconds(), s.Bench.Links()[sim.Thermo], text(c.Last.Reading))
		return true
	})
}

// freeName proposes AB-0147, or the next number that the workspace has not.
func (s *Story) freeName(ctx context.Context) (string, error) {
	list, err := s.App.Jobs(ctx)
	if err != nil {
		return "", err
	}
	taken := map[string]bool{}
	for _, j := range list {
		taken[j.Job] = true
	}
	for n := 147; ; n++ {
		if name := fmt.Sprintf("AB-%04d", n); !taken[name] {
			return name, nil
		}
	}
}

func (s *Story) coldChecks(ctx context.Context) error {
	if err := s.stage(ctx, capture.ColdChecks); err != nil {
		return err
	}
	s.say("Mains off, set unplugged. Capacitors hold their charge: they are discharged and measured before hands go in.")
	s.say("Local codes and licensed practice govern this work.")
	for _, r := range s.sheet.Rails {
		v, err := s.read(ctx, volts, where{rail: r.Name, point: r.Point})
		if err != nil {
			return err
		}
		s.say("  %-12s %10s  %s", r.Name, text(v), atRest(v))
	}
	if err := s.nullLeads(ctx); err != nil {
		return err
	}
	for _, r := range s.sheet.Rails {
		if err := s.readShort(ctx, r); err != nil {
			return err
		}
	}
	return nil
}

// charging is how long a hand waits for a rail that charges: whether it is short
// is known sooner.
const charging = 20 * time.Second

// readShort reads a rail's resistance and says what that is. Where the proof that
// the rail is dead has become too old meanwhile, it is proven dead once more first:
// a busy computer makes slow hands.
func (s *Story) readShort(ctx context.Context, r capture.Rail) error {
	for again := range coldTries {
		if again > 0 {
			v, err := s.read(ctx, volts, where{rail: r.Name, point: r.Point})
			if err != nil {
				return err
			}
			s.say("  %-12s %10s  %s", r.Name, text(v), atRest(v))
		}
		v, judged, err := s.ohmsOf(ctx, r)
		if err != nil {
			return err
		}
		s.say("  %-12s %10s  %s", r.Name, text(v), judged.Say)
		if judged.Outcome != capture.ConditionalFail {
			break
		}
	}
	return nil
}

// coldTries is how often a rail is read cold until it is judged.
const coldTries = 3

// ohmsOf reads a rail's resistance until it is judged, or cannot be.
func (s *Story) ohmsOf(ctx context.Context, r capture.Rail) (capture.Reading, capture.Verdict, error) {
	if err := s.put(ctx, ohms, where{rail: r.Name, point: r.Point}); err != nil {
		return capture.Reading{}, capture.Verdict{}, err
	}
	v, err := s.steadyWithin(ctx, ohms, s.Clock.Now(), charging)
	if err != nil {
		return capture.Reading{}, capture.Verdict{}, err
	}
	judged, err := s.judgedShort(ctx, r.Name)
	return v.Reading, judged, err
}

// judgedShort waits until a resistance has been judged: the readings agree
// sooner than the rule calls them steady, and an output may only be switched on
// when no rail was left open.
func (s *Story) judgedShort(ctx context.Context, rail string) (v capture.Verdict, err error) {
	until := s.Clock.Now().Add(time.Minute)
	err = s.watch(ctx, func(snap live.Snapshot) bool {
		v, _ = s.verdict(rail, "short")
		return v.Outcome != capture.NoData || snap.Now > until
	})
	return v, err
}

// atRest says whether a rail's voltage allows a resistance to be read. Above
// about 50 mV it does not (common practice).
func atRest(v capture.Reading) string {
	if v.HasValue() && math.Abs(v.Value) < 0.050 {
		return "no voltage: ohms may be read"
	}
	return "not without voltage: no ohms yet"
}

// nullLeads holds the probes together and records what the leads have.
func (s *Story) nullLeads(ctx context.Context) error {
	r, err := s.read(ctx, ohms, where{point: sim.PointShorted, hold: capture.Clipped})
	if err != nil {
		return err
	}
	s.null = r.Value
	s.say("Probes together: %s of lead, taken off what follows.", text(r))
	return s.act(ctx, capture.Act{Verb: capture.ActNull, Subject: string(ohms), Value: r.Value})
}

// hear says of every open alarm about +5 V that it was heard.
func (s *Story) hear(ctx context.Context) error {
	j, _ := s.App.Snapshot().Job(s.job)
	for _, t := range j.Alarms {
		if t.Rail != rail5 {
			continue
		}
		if err := s.act(ctx, capture.Act{Verb: capture.ActHeard, Subject: t.Alarm}); err != nil {
			return err
		}
	}
	return nil
}
