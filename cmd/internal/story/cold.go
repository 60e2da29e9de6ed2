package story

import (
	"context"
	"fmt"
	"math"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/drivers/sim"
	"steadyrail/rules/isolate"
)

const (
	volts   capture.ChannelID = sim.DMM + "/volts"
	ohms    capture.ChannelID = sim.DMM + "/ohms"
	celsius capture.ChannelID = sim.Thermo + "/celsius"
)

// points are the test points of the Alderbrook's board, in the order of the
// walk.
var points = map[string]string{"+5 V logic": sim.Point5, "+12 V audio": sim.Point12, "-12 V audio": sim.PointMinus12, "+3.3 V DSP": sim.Point3}

const rail5 = "+5 V logic"

// sheetOf is what the technician knows of the job when it comes in.
func sheetOf(job string) (capture.Sheet, error) {
	rails, err := capture.ParseRails("+5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP")
	if err != nil {
		return capture.Sheet{}, err
	}
	for i := range rails {
		rails[i].Point = points[rails[i].Name]
		if rails[i].Name == "+3.3 V DSP" {
			rails[i].FedFrom = rail5
		}
	}
	return capture.Sheet{
		Job: job, Set: "Alderbrook 88 stage piano", Board: "main board", SerialNumber: "004417",
		Symptom: "dead keys, hiss at power-up", Indication: "DSP fault",
		Technician: "R. Hale", Rails: rails,
	}, nil
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
	s.say("Job %s: %s. Symptom: %s. Of itself the set says %q: an indication, not evidence.", job, s.sheet.Set, s.sheet.Symptom, s.sheet.Indication)
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
		v, err := s.read(ctx, ohms, where{rail: r.Name, point: r.Point})
		if err != nil {
			return err
		}
		judged, err := s.judgedShort(ctx, r.Name)
		if err != nil {
			return err
		}
		s.say("  %-12s %10s  %s", r.Name, text(v), judged.Say)
	}
	return nil
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

// clipDoubt is what is not known about two resistances read with clips: the
// meter's gain, the nulled leads, and the scatter of a clip (common practice).
var clipDoubt = isolate.Doubt{Gain: 0.0006, Leads: 0.003, Contact: 0.003}

func (s *Story) isolate(ctx context.Context) error {
	if err := s.stage(ctx, capture.Isolate); err != nil {
		return err
	}
	if err := s.hear(ctx); err != nil {
		return err
	}
	at := where{rail: rail5, point: sim.Point5, hold: capture.Clipped}
	if _, err := s.read(ctx, volts, at); err != nil { // proves the rail dead once more
		return err
	}
	before, err := s.read(ctx, ohms, at)
	if err != nil {
		return err
	}
	standing := before.Value - s.null
	s.say("Clipped to TP5: %s. Beside that, a lift can only tell about a branch below %s.", text(net(before, s.null)), capture.Ohm.Text(isolate.Highest(standing, clipDoubt), 0.1))
	for _, part := range []string{sim.CN3, sim.C104, sim.PS2} {
		if before, err = s.lift(ctx, part, before); err != nil {
			return err
		}
	}
	for _, part := range []string{sim.C104, sim.CN3} {
		if err := s.Bench.Plug(part); err != nil {
			return err
		}
		if err := s.act(ctx, capture.Act{Verb: capture.ActPutBack, Subject: part}); err != nil {
			return err
		}
	}
	s.say("CN3 and C104 are back in place; PS2 stays out.")
	return s.hear(ctx)
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

func net(r capture.Reading, null float64) capture.Reading {
	r.Value -= null
	return r
}

// lift takes a part off, reads again and says what that proves.
func (s *Story) lift(ctx context.Context, part string, before capture.Reading) (capture.Reading, error) {
	if err := s.act(ctx, capture.Act{Verb: capture.ActLift, Subject: part}); err != nil {
		return before, err
	}
	if err := s.Bench.Unplug(part); err != nil {
		return before, err
	}
	after, err := s.steady(ctx, ohms, s.Clock.Now().Add(time.Second))
	if err != nil {
		return before, err
	}
	if _, err := s.judgedShort(ctx, rail5); err != nil {
		return before, err
	}
	off := 0.0
	if part == sim.PS2 {
		pin, err := s.read(ctx, ohms, where{point: sim.PointPS2, hold: capture.Clipped})
		if err != nil {
			return before, err
		}
		off = pin.Value - s.null
	}
	r2 := after.Reading.Value - s.null
	if !after.Reading.HasValue() {
		r2 = math.Inf(1)
	}
	l, err := isolate.Compare(before.Value-s.null, r2, clipDoubt)
	if err != nil {
		return before, err
	}
	word, why := l.Judge(off, capture.DefaultShortBelow)
	printed, found := lifted(part, text(net(before, s.null)), text(net(after.Reading, s.null)), titled(string(word))+": "+why+".")
	s.say("  %s", printed)
	return after.Reading, s.act(ctx, found)
}

// lifted words a lift for the terminal and for the record, whose entry tells
// its subject itself.
func lifted(part, before, after, verdict string) (printed string, found capture.Act) {
	printed = fmt.Sprintf("%s lifted: %s, then %s. %s", part, before, after, verdict)
	return printed, capture.Act{Verb: capture.ActFinding, Subject: part, Text: fmt.Sprintf("%s before, %s after. %s", before, after, verdict)}
}

func titled(w string) string { return string(w[0]-'a'+'A') + w[1:] }
