package rules

import (
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// shelfJob is a stored job in memory.
type shelfJob struct {
	log         []capture.Record
	transitions []capture.Transition
}

func (s *shelfJob) Records(ctx context.Context, from, to capture.Instant, yield func(capture.Record) error) error {
	for _, r := range s.log {
		if r.At < from || to != 0 && r.At >= to {
			continue
		}
		if err := errors.Join(ctx.Err(), yield(r)); err != nil {
			return err
		}
	}
	return nil
}

func (s *shelfJob) Transitions(context.Context) ([]capture.Transition, error) {
	return s.transitions, nil
}

func (s *shelfJob) Series(_ context.Context, spans []capture.Span, q capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error) {
	return []capture.Bucket{{From: from, To: to, N: len(spans), Last: float64(q)}}, nil
}

func (s *shelfJob) Head(context.Context) (capture.Head, error) {
	return capture.Head{Count: uint64(len(s.log)), Last: s.log[len(s.log)-1].At}, nil
}

// story is a short job: a short found cold, a stand-in, warm-up, a soak of two
// minutes with one collapse in which nothing was recorded for ten seconds.
func story() *shelfJob {
	log := opening(nil, five)[:3]
	roster := log[1].Item.(capture.Roster)
	roster.Instruments[0].Channels[0].Aperture = 20 * time.Millisecond
	roster.Instruments[0].Channels[0].Accuracy = []capture.Accuracy{{Range: 10, OfReading: 0.0005, Resolution: 0.001, Digits: 2}}
	roster.Instruments = append(roster.Instruments, capture.InstrumentInfo{Name: "thermo", Channels: []capture.ChannelInfo{{ID: "thermo/celsius", Quantity: capture.Temperature, Every: time.Second}}})
	log[1].Item = roster
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	reads := func(from, to float64, ch string, v float64) {
		for s := from; s < to-1e-9; s += 0.2 {
			r := volts(ch, v+0.001*math.Sin(7*s))
			if strings.HasSuffix(ch, "ohms") {
				r.Quantity = capture.Resistance
			}
			add(s, r)
		}
	}
	add(0, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	add(1, capture.Placement{Channel: "dmm/volts", Rail: five.Name, Point: "TP5"})
	reads(1.2, 3, "dmm/volts", 0.001)
	add(3, capture.Placement{Channel: "dmm/ohms", Rail: five.Name, Point: "TP5"})
	reads(3.2, 6, "dmm/ohms", 0.84)
	add(6, capture.Placement{Channel: "dmm/ohms"})
	add(7, capture.Act{Verb: capture.ActStage, Stage: capture.Isolate})
	add(8, capture.Act{Verb: capture.ActLift, Subject: "PS2", Text: "unplugged"}) // no heat: the next reading counts at once
	add(9, capture.Placement{Channel: "dmm/ohms", Rail: five.Name, Point: "TP5"})
	reads(9.2, 12, "dmm/ohms", 113)
	add(20, capture.Act{Verb: capture.ActStage, Stage: capture.WarmUp})
	// Filed under no rail by mistake, mended later.
	add(20.1, capture.Placement{Channel: "dmm/volts", Hold: capture.Clipped})
	wrong := log[len(log)-1].At
	add(20.2, capture.Placement{Channel: "thermo/celsius", Point: "stand-in case", Hold: capture.Clipped})
	reads(20.4, 60, "dmm/volts", 5.004)
	add(60, capture.Placement{Channel: "dmm/volts", Rail: five.Name, Point: "TP5", Hold: capture.Clipped, Corrects: wrong, By: "K. Alder", Why: "forgot the rail"})
	add(61, capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
	add(61.1, capture.Act{Verb: capture.ActSoak, Text: "start", Value: 120})
	reads(61.2, 100, "dmm/volts", 5.006)
	reads(100, 100.4, "dmm/volts", 3.1)
	reads(100.4, 120, "dmm/volts", 5.006)
	add(130, capture.Gap{From: at(120), To: at(130), Reason: "disk full"})
	reads(130.2, 181, "dmm/volts", 5.006)
	for s := 62.05; s < 181; s += 1 {
		if s > 120 && s < 130 {
			continue
		}
		add(s, capture.Reading{Channel: "thermo/celsius", Quantity: capture.Temperature, Value: 41.2, Resolution: 0.1})
	}
	add(181.2, capture.Act{Verb: capture.ActSoak, Text: "stop"})
	add(182, capture.Act{Verb: capture.ActStage, Stage: capture.SignOff})
	sortLog(log)
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	return job
}

// TestAsFoundStands: a supply that is set while the probe is on takes the proof
// that the rail is dead; what was found before that stays as found.
func TestAsFoundStands(t *testing.T) {
	job := story()
	job.log = append(job.log, capture.Record{At: at(4.7) + 13, Job: "AB-0147", Item: capture.Act{Verb: capture.ActLimits, Subject: "supply", Text: "volts 0.3, amperes 0.5"}})
	sortLog(job.log)
	d, err := BuildDossier(bg, job, Told{})
	if err != nil {
		t.Fatal(err)
	}
	if got := d.Rails[0].Before[0]; got.Outcome != capture.Fail || !strings.Contains(got.Say, ": short") {
		t.Errorf("as found: %s, %q", got.Outcome, got.Say)
	}
}

// TestOhmsBehindTheColdStages: what was read last with the output off is what the
// set leaves with, in whatever stage.
func TestOhmsBehindTheColdStages(t *testing.T) {
	var log []capture.Record
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	ohms := func(from, to, value float64) {
		for s := from; s < to; s += 0.2 {
			add(s, capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: value, Resolution: 0.001, Range: 500})
		}
	}
	log = append(log, opening(nil, five)...)
	add(1, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	dead := func(sec float64) {
		add(sec, capture.Placement{Channel: "dmm/volts", Rail: five.Name, Point: "TP5"})
		for s := sec + 0.2; s < sec+2; s += 0.2 {
			add(s, volts("dmm/volts", 0.001))
		}
		add(sec+2, capture.Placement{Channel: "dmm/ohms", Rail: five.Name, Point: "TP5"})
	}
	dead(2)
	ohms(4.2, 8, 0.84)
	add(8, capture.Placement{Channel: "dmm/ohms"})
	add(9, capture.Act{Verb: capture.ActStage, Stage: capture.StandIn})
	add(9.5, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off"})
	dead(10)
	ohms(12.2, 16, 192)
	sortLog(log)
	d, err := BuildDossier(bg, &shelfJob{log: log}, Told{})
	if err != nil {
		t.Fatal(err)
	}
	rail := d.Rails[0]
	if len(rail.Before) == 0 || math.Abs(rail.Before[0].Value-0.84) > 1e-9 {
		t.Errorf("as found %+v", rail.Before)
	}
	if len(rail.After) != 1 || math.Abs(rail.After[0].Value-192) > 1e-9 || rail.After[0].Stage != capture.StandIn {
		t.Errorf("as it leaves %+v", rail.After)
	}
}

func TestDossier(t *testing.T) {
	job := story()
	d, err := BuildDossier(bg, job, Told{Entries: []capture.Entry{{Text: "told by others"}}})
	if err != nil {
		t.Fatal(err)
	}
	rail := d.Rails[0]
	if len(rail.Before) != 1 || plain(rail.Before[0].Say) != "0.840 Ω: short, leads not nulled" || rail.Before[0].Outcome != capture.Fail || rail.Before[0].Point != "TP5" {
		t.Errorf("before %+v", rail.Before)
	}
	if len(rail.After) != 2 || !strings.HasSuffix(rail.After[0].Say, "no short, leads not nulled") {
		t.Fatalf("after %+v", rail.After)
	}
	load := rail.After[1]
	if len(d.Judged) != 1 || d.Judged[0].Stage != load.Stage || d.Judged[0].Expanded != load.Uncertainty || d.Judged[0].At != load.At || d.Judged[0].N != load.N || len(d.Judged[0].Parts) != 3 {
		t.Errorf("judged %+v, under load %+v", d.Judged, load)
	}
	if load.Stage != capture.Soak || math.Abs(load.Value-5.006) > 0.0005 || load.Say != "Inside" || load.Outcome != capture.Pass || load.N < 200 || load.Span > time.Minute {
		t.Errorf("under load %+v", load)
	}
	// U never falls below the meter's own part, however many readings: a = 2.5 mV + 2 mV.
	if load.Uncertainty < 2*0.0045/math.Sqrt(3) || load.Uncertainty > 0.006 {
		t.Errorf("U = %g V", load.Uncertainty)
	}
	if len(rail.Watches) != 1 || rail.Watches[0].Min > 3.2 || rail.Watches[0].LongestGap < 10*time.Second || rail.Watches[0].Observed == 0 {
		t.Errorf("watches %+v", rail.Watches)
	}
	if len(d.Points) != 1 || d.Points[0].Channel != "thermo/celsius" || d.Points[0].Mean == 0 || d.Points[0].Point != "stand-in case" {
		t.Errorf("points %+v", d.Points)
	} else if s := d.Points[0].Series; len(s) != 1 || s[0].From != d.Soak.From || s[0].Last != float64(capture.Temperature) {
		t.Errorf("series of the point %+v", s)
	}
	if s := rail.Series; len(s) != 1 || s[0].From != d.Soak.From {
		t.Errorf("series %+v", s)
	}
	if d.From != job.log[0].At || d.To != job.log[len(job.log)-1].At || d.Head.Count != uint64(len(job.log)) || len(d.Entries) != 1 || len(d.Stages) != 5 || len(d.Gaps) != 1 {
		t.Errorf("from %s to %s, head %+v, %d entries, %d stages, %d gaps", d.From, d.To, d.Head, len(d.Entries), len(d.Stages), len(d.Gaps))
	}
}

// A resistance that never stood still was measured all the same, and one that
// did takes its place in the same stage.
func TestDossierKeepsWhatCouldNotBeJudged(t *testing.T) {
	log := opening(nil, five)[:3]
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Job: "AB-0147", Item: item})
	}
	touch := func(from float64, ohms ...float64) {
		add(from, capture.Placement{Channel: "dmm/volts", Rail: five.Name, Point: "TP5"})
		add(from+.1, volts("dmm/volts", 0.001))
		add(from+.2, capture.Placement{Channel: "dmm/ohms", Rail: five.Name, Point: "TP5"})
		for i, v := range ohms {
			r := volts("dmm/ohms", v)
			r.Quantity = capture.Resistance
			add(from+.4+.2*float64(i), r)
		}
		add(from+.6+.2*float64(len(ohms)), capture.Placement{Channel: "dmm/ohms"})
	}
	add(0, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	touch(1, 310, 400)
	build := func() capture.Result {
		t.Helper()
		d, err := BuildDossier(bg, &shelfJob{log: log}, Told{})
		if err != nil || len(d.Rails[0].Before) != 1 {
			t.Fatalf("%v, %+v", err, d.Rails)
		}
		return d.Rails[0].Before[0]
	}
	if r := build(); r.Outcome != capture.NoData || r.Value != 400 || r.Say != "Wait: not steady yet" {
		t.Errorf("unjudged %+v", r)
	}
	touch(10, 310, 310, 310, 310, 310, 310, 310, 310)
	if r := build(); r.Outcome != capture.Pass || r.Value != 310 {
		t.Errorf("judged at last %+v", r)
	}
	touch(20, 310, 400)
	if r := build(); r.Outcome != capture.Pass {
		t.Errorf("a later contact took the place of what was judged: %+v", r)
	}
}

func TestDossierVerdictsFollowCorrections(t *testing.T) {
	d, err := BuildDossier(bg, story(), Told{})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, v := range d.Rails[0].Verdicts {
		got[v.Kind] = plain(v.Say)
	}
	// The collapse can only be judged if the rail was watched before the
	// correction as well: judged by the mended record it was.
	if !strings.HasPrefix(got["collapse"], "Collapsed once since watched") {
		t.Errorf("verdicts %v", got)
	}
	if got["band"] != "Inside" || !strings.HasSuffix(got["short"], "no short, leads not nulled") {
		t.Errorf("verdicts %v", got)
	}
}

func TestDossierSoak(t *testing.T) {
	d, err := BuildDossier(bg, story(), Told{})
	if err != nil {
		t.Fatal(err)
	}
	s := d.Soak
	if s == nil || s.Failures != 1 || s.Pieces != 2 || s.Passed || s.Planned != 2*time.Minute {
		t.Fatalf("soak %+v", s)
	}
	if blind := s.To.Sub(s.From) - s.Watched; blind != 10*time.Second {
		t.Errorf("blind for %s", blind)
	}
	said := plain(strings.Join(s.Say, " "))
	for _, want := range []string{"in 2 pieces", "One failure: +5 V logic collapsed: from 5.00", "with 1 failure prove, with 95 % confidence", "shorter than"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is missing in %q", want, said)
		}
	}
}

// TestSilenceIsBlind: a channel that gave nothing for ten seconds watched in
// two pieces, from its last good reading on.
func TestSilenceIsBlind(t *testing.T) {
	log := opening(nil, five)
	for s := 1.0; s < 100; s += 0.2 {
		r := volts("dmm/volts", 5.001)
		if s > 50 && s < 60 {
			r.Flags = capture.TimedOut
		}
		log = append(log, capture.Record{At: at(s) + 13, Item: r})
	}
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	d, err := BuildDossier(bg, job, Told{Soaks: []SoakSpan{{From: at(1), To: at(100)}}})
	if err != nil {
		t.Fatal(err)
	}
	blind := d.Soak.To.Sub(d.Soak.From) - d.Soak.Watched
	if d.Soak.Pieces != 2 || blind < 10*time.Second || blind > 10500*time.Millisecond || d.Soak.Failures != 0 || d.Soak.Passed {
		t.Errorf("blind %s, %+v", blind, d.Soak)
	}
	// Cut off while silent: blind to the end.
	job.transitions = job.transitions[:1]
	d, _ = BuildDossier(bg, job, Told{Soaks: []SoakSpan{{From: at(1), To: at(100)}}})
	if blind := d.Soak.To.Sub(d.Soak.From) - d.Soak.Watched; blind < 49*time.Second {
		t.Errorf("blind %s after a silence that did not end", blind)
	}
}

// TestLevelUnderLoadIsNotTakenAcrossAFall: a fall within the last minute is told
// by its alarm, and the level is that of the time after it.
func TestLevelUnderLoadIsNotTakenAcrossAFall(t *testing.T) {
	log := opening(nil, five)
	log = append(log, capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: capture.WarmUp}})
	for s := 1.0; s < 100; s += 0.2 {
		v := 5.001
		if s > 80 && s < 82 {
			v = 0.01
		}
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", v)})
	}
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	d, err := BuildDossier(bg, job, Told{})
	if err != nil || len(d.Alarms) == 0 {
		t.Fatalf("%v, %d alarms", err, len(d.Alarms))
	}
	if r := d.Rails[0].After[0]; r.Outcome != capture.Pass || math.Abs(r.Value-5.001) > 1e-6 || r.N > 92 {
		t.Errorf("under load %+v", r)
	}
}

// TestLevelUnderLoadOfARailThatStaysDown is the level it is down at.
func TestLevelUnderLoadOfARailThatStaysDown(t *testing.T) {
	log := opening(nil, five)
	log = append(log, capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: capture.WarmUp}})
	for s := 1.0; s < 100; s += 0.2 {
		v := 5.001
		if s > 80 {
			v = 3.1
		}
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", v)})
	}
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	d, err := BuildDossier(bg, job, Told{})
	if err != nil || math.Abs(d.Rails[0].After[0].Value-3.1) > 1e-6 {
		t.Errorf("%v, under load %+v", err, d.Rails[0].After)
	}
}

// TestCleanSoakPasses, and is watched by the warm-up when there was none.
func TestCleanSoakPasses(t *testing.T) {
	log := opening(nil, five)
	log = append(log, capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: capture.WarmUp}})
	for s := 1.0; s < 100; s += 0.2 {
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", 5.001)})
	}
	job := &shelfJob{log: log}
	d, err := BuildDossier(bg, job, Told{Soaks: []SoakSpan{{From: at(2), To: at(98), Planned: time.Minute}}})
	if err != nil || !d.Soak.Passed || !strings.Contains(strings.Join(d.Soak.Say, " "), "No rail failed.") {
		t.Errorf("%v %+v", err, d.Soak)
	}
	d, err = BuildDossier(bg, job, Told{})
	if err != nil || d.Soak != nil || len(d.Rails[0].Watches) != 1 || d.Rails[0].After[0].Stage != capture.WarmUp {
		t.Errorf("%v %+v", err, d.Rails)
	}
}

func TestDossierAlarms(t *testing.T) {
	d, err := BuildDossier(bg, story(), Told{})
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for _, a := range d.Alarms {
		kinds = append(kinds, a.Kind)
		if a.Kind == "collapse" && (a.Cleared <= a.Raised || len(a.Transitions) != 2 || len(a.Around) < 90 || a.Heard != 0) {
			t.Errorf("story %+v with %d readings around", a, len(a.Around))
		}
	}
	if !reflect.DeepEqual(kinds, []string{"short", "collapse"}) {
		t.Errorf("alarms %v", kinds)
	}
}

func TestDossierSaysWhatWasNotChecked(t *testing.T) {
	job := story()
	sheet := job.log[0].Item.(capture.Sheet)
	sheet.NotChecked = []string{"The reverb tank"}
	job.log[0].Item = sheet
	d, _ := BuildDossier(bg, job, Told{})
	said := strings.Join(d.NotChecked, "\n")
	for _, want := range []string{"Loop stability", "Start-up shape", "Interference", "Ripple", "Safety tests after repair", "The reverb tank"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if strings.Contains(said, "Soak") || strings.Contains(said, "under load") {
		t.Errorf("says that what was done was not: %s", said)
	}
}

func TestDossierOfNothing(t *testing.T) {
	job := &shelfJob{log: []capture.Record{{At: epoch, Item: capture.Sheet{Job: "AB-0148", Rails: []capture.Rail{five}}}}}
	d, err := BuildDossier(bg, job, Told{})
	if err != nil || d.Soak != nil || len(d.Rails) != 1 || !strings.Contains(strings.Join(d.NotChecked, "\n"), "+5 V logic under load: not checked") {
		t.Errorf("%v %+v", err, d)
	}
	ctx, cancel := context.WithCancel(bg)
	cancel()
	if _, err := BuildDossier(ctx, job, Told{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// BenchmarkDossier builds the dossier of six hours at five readings a second
// on one rail; walking the same record without judging is the baseline.
func BenchmarkDossier(b *testing.B) {
	log := opening(nil, five)
	for i := range 6 * 3600 * 5 {
		log = append(log, capture.Record{At: at(1+float64(i)/5) + 13, Item: volts("dmm/volts", 5+0.001*math.Sin(float64(i)))})
	}
	job := &shelfJob{log: log}
	told := Told{Soaks: []SoakSpan{{From: at(1), To: at(6 * 3600)}}}
	b.Run("dossier", func(b *testing.B) {
		for b.Loop() {
			if _, err := BuildDossier(bg, job, told); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("baseline walk", func(b *testing.B) {
		for b.Loop() {
			f := feeder{take: func(capture.Record) {}}
			_ = job.Records(bg, 0, 0, func(r capture.Record) error { return f.feed(bg, r) })
		}
	})
}

// TestSoakWithoutAClipProvesNothing: rules are armed on clipped probes alone,
// so a touched one, or a clip that gave no reading, can show no failure.
func TestSoakWithoutAClipProvesNothing(t *testing.T) {
	soak := Told{Soaks: []SoakSpan{{From: at(2), To: at(98), Planned: time.Minute}}}
	build := func(change func(*capture.Placement, *capture.Reading)) *capture.SoakEvidence {
		t.Helper()
		log := opening(nil, five)
		p := log[4].Item.(capture.Placement)
		for s := 1.0; s < 100; s += 0.2 {
			r := volts("dmm/volts", 5.001)
			change(&p, &r)
			log = append(log, capture.Record{At: at(s) + 13, Item: r})
		}
		log[4].Item = p
		d, err := BuildDossier(bg, &shelfJob{log: log}, soak)
		if err != nil {
			t.Fatal(err)
		}
		return d.Soak
	}
	for name, change := range map[string]func(*capture.Placement, *capture.Reading){
		"touched":    func(p *capture.Placement, _ *capture.Reading) { p.Hold = capture.Touched },
		"no reading": func(_ *capture.Placement, r *capture.Reading) { r.Flags = capture.TimedOut },
	} {
		s := build(change)
		said := strings.Join(s.Say, " ")
		if s.Passed || s.Watched != 0 || strings.Contains(said, "No rail failed") || !strings.Contains(said, "Nothing was watched") {
			t.Errorf("%s: %+v", name, s)
		}
	}
}

// TestSoakCountsFromTheFirstClip: what was clipped on late was not watched
// before.
func TestSoakCountsFromTheFirstClip(t *testing.T) {
	log := opening(nil, five)
	log[4].Item = capture.Placement{Channel: "dmm/volts", Rail: five.Name}
	log = append(log, capture.Record{At: at(50), Item: capture.Placement{Channel: "dmm/volts", Rail: five.Name, Hold: capture.Clipped}})
	for s := 1.0; s < 100; s += 0.2 {
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", 5.001)})
	}
	sortLog(log)
	d, err := BuildDossier(bg, &shelfJob{log: log}, Told{Soaks: []SoakSpan{{From: at(2), To: at(98), Planned: 90 * time.Second}}})
	if err != nil || d.Soak.Passed || d.Soak.Watched != 48*time.Second || !strings.Contains(d.Soak.Say[0], "watched for 48 s") {
		t.Errorf("%v %+v", err, d.Soak)
	}
}

// TestVerdictBelongsToTheStageOfItsTick: the last resistance of the cold checks
// is heard with a tick that lies before the next stage, and belongs to them; a
// voltage of before is none of the live checks.
func TestVerdictBelongsToTheStageOfItsTick(t *testing.T) {
	log := opening(nil, five)[:3]
	add := func(sec float64, item capture.Item) {
		log = append(log, capture.Record{At: at(sec) + 13, Item: item})
	}
	add(0, capture.Act{Verb: capture.ActStage, Stage: capture.StandIn})
	add(1, capture.Placement{Channel: "dmm/volts", Rail: five.Name, Hold: capture.Clipped})
	add(1.95, volts("dmm/volts", 5.001))
	add(1.96, volts("dmm/volts", 5.002)) // heard with the tick at 2.0
	add(2.05, capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks})
	add(4, capture.Placement{Channel: "dmm/volts"})
	add(5, capture.Act{Verb: capture.ActClose})
	d, err := BuildDossier(bg, &shelfJob{log: log}, Told{})
	if err != nil || len(d.Rails[0].Before) != 0 {
		t.Errorf("%v: the live checks found %+v", err, d.Rails[0].Before)
	}
}
