package diagnose

import (
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// told feeds a trail as a job's records come in.
type told struct {
	t  *testing.T
	tr Trail
	at capture.Instant
}

const (
	ohmsHere  capture.ChannelID = "dmm/ohms"
	voltsHere capture.ChannelID = "dmm/volts"
)

func (s *told) post(items ...capture.Item) {
	for _, it := range items {
		s.at = s.at.Add(100 * time.Millisecond)
		s.tr.Consume(capture.Record{At: s.at, Job: "AB-0147", Item: it})
	}
}

func (s *told) act(v capture.Verb, subject, text string) {
	s.post(capture.Act{Verb: v, Subject: subject, Text: text})
}
func (s *told) stage(st capture.Stage) { s.post(capture.Act{Verb: capture.ActStage, Stage: st}) }

// read holds a probe on a place until ten readings are there.
func (s *told) read(ch capture.ChannelID, rail, point string, v float64) {
	s.post(capture.Placement{Channel: ch, Rail: rail, Point: point, Hold: capture.Clipped})
	s.again(ch, v)
}

func (s *told) again(ch capture.ChannelID, v float64) {
	q := capture.Resistance
	if ch == voltsHere {
		q = capture.DCVoltage
	}
	for range 10 {
		s.post(capture.Reading{Channel: ch, Quantity: q, Value: v, Resolution: 0.0001})
	}
}

func (s *told) search(b *Board) capture.FaultSearch {
	s.t.Helper()
	f, err := s.tr.Search(b)
	if err != nil {
		s.t.Fatal(err)
	}
	return f
}

func begun(t *testing.T) *told {
	s := &told{t: t, at: 1e6}
	rails, err := capture.ParseRails("+18 20% raw, -18 20% raw, +5 2% logic, +12 5% audio, -12 5% audio, 3.3 3% DSP")
	if err != nil {
		t.Fatal(err)
	}
	s.post(capture.Sheet{Job: "AB-0147", Rails: rails, Indication: "DSP fault"})
	s.stage(capture.ColdChecks)
	s.act(capture.ActNull, "", "")
	return s
}

// A job on which PS2 is short is walked as the bench does it.
func TestTrailConvicts(t *testing.T) {
	b := piano(t)
	s := begun(t)
	s.read(voltsHere, "+5 V logic", "TP5", 0.001)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	s.stage(capture.Isolate)
	if f := s.search(&b); f.Next == nil || f.Explanations[0].Share < 0.05 || len(f.Limits) != 1 || f.Limits[0].Highest < 40 {
		t.Errorf("before a lift: next %+v, limits %+v", f.Next, f.Limits)
	}
	s.act(capture.ActLift, "CN3", "")
	s.again(ohmsHere, 0.842)
	s.act(capture.ActLift, "PS2", "")
	s.again(ohmsHere, 149)
	f := s.search(&b)
	if len(f.Ledger) != 2 || f.Ledger[0].Word != "acquitted" || f.Ledger[1].Word != "cannot tell" || !strings.Contains(f.Ledger[1].Say, "by itself") {
		t.Fatalf("ledger %+v", f.Ledger)
	}
	s.read(ohmsHere, "", "PS2 output pin", 0.83)
	f = s.search(&b)
	if f.Ledger[1].Word != "convicted" || !strings.HasPrefix(f.Say, "PS2 is convicted") || f.Explanations[0].Faults[0].Part != "PS2" {
		t.Fatalf("said %q, %+v, first %+v", f.Say, f.Ledger[1], f.Explanations[0])
	}
	if a, err := s.tr.Finding(&b, "ps2"); err != nil || a.Verb != capture.ActFinding || !strings.Contains(a.Text, "Convicted") {
		t.Errorf("finding %+v, %v", a, err)
	}
	if _, err := s.tr.Finding(&b, "C104"); err == nil {
		t.Error("a finding about a part that was never lifted")
	}
	s.stage(capture.StandIn)
	s.stage(capture.Isolate)
	if f = s.search(&b); len(f.Ledger) != 0 || f.Since == 0 {
		t.Errorf("after the stand-in the ledger has %d lines", len(f.Ledger))
	}
}

// What counts for nothing is told with why; nothing of it is averaged in.
func TestTrailUnused(t *testing.T) {
	b := piano(t)
	for _, c := range []struct {
		name, want string
		do         func(*told)
	}{
		{"voltage on the rail", "discharge it first", func(s *told) {
			s.read(voltsHere, "+5 V logic", "TP5", 1.2)
			s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
		}},
		{"negative", "discharge it first", func(s *told) { s.read(ohmsHere, "+5 V logic", "TP5", -12) }},
		{"ohms under power", "under power", func(s *told) {
			s.stage(capture.LiveChecks)
			s.read(ohmsHere, "+5 V logic", "TP5", 44)
		}},
		{"never steady", "never steady", func(s *told) {
			s.post(capture.Placement{Channel: ohmsHere, Rail: "+5 V logic"})
			for i := range 8 {
				s.post(capture.Reading{Channel: ohmsHere, Quantity: capture.Resistance, Value: float64(1 + 3*i)})
			}
		}},
		{"wrong function", "turn the dial", func(s *told) {
			s.post(capture.Placement{Channel: "dmm/diode", Rail: "+5 V logic"})
			s.post(capture.Reading{Channel: "dmm/diode", Quantity: capture.DiodeDrop, Value: 0.5})
		}},
		{"lifted twice", "off already", func(s *told) { s.act(capture.ActLift, "C104", ""); s.act(capture.ActLift, "C104", "") }},
		{"put back what was on", "was not off", func(s *told) { s.act(capture.ActPutBack, "C104", "") }},
		{"alone before the lift", "lift it first", func(s *told) { s.act(capture.ActTried, "C104", "alone C104 0.3 ohm") }},
		{"a part the sheet does not have", "no part of the sheet", func(s *told) { s.act(capture.ActLift, "R99", "") }},
	} {
		s := begun(t)
		c.do(s)
		f := s.search(&b)
		found := false
		for _, u := range f.Unused {
			found = found || strings.Contains(u.Say, c.want) && u.Because != ""
		}
		if n := 0; len(f.UnusedBy) == 0 {
			t.Errorf("%s: no reason is told", c.name)
		} else {
			for _, g := range f.UnusedBy {
				n += g.N
			}
			if n != len(f.Unused) {
				t.Errorf("%s: %d of %d by reason", c.name, n, len(f.Unused))
			}
		}
		if !found {
			t.Errorf("%s: unused %+v", c.name, f.Unused)
		}
		for _, e := range f.Entries {
			if strings.Contains(e, "ohm") || strings.Contains(e, "Ω") {
				t.Errorf("%s: counts as %q", c.name, e)
			}
		}
	}
}

// A rail that reads otherwise with nothing done is a contradiction by name, and
// a conductance that rises by a lift says that something else changed.
func TestTrailContradicts(t *testing.T) {
	b := piano(t)
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.83)
	if f := s.search(&b); len(f.Contradictions) != 0 || len(f.Entries) != 2 {
		t.Errorf("the same again: %q, entries %q", f.Contradictions, f.Entries)
	}
	s.read(ohmsHere, "+5 V logic", "TP5", 148)
	if f := s.search(&b); len(f.Contradictions) == 0 || f.Say != "The entries contradict each other" {
		t.Errorf("another value: %q, said %q", f.Contradictions, f.Say)
	}
	s = begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 12)
	s.act(capture.ActLift, "C104", "")
	s.again(ohmsHere, 0.4)
	f := s.search(&b)
	if f.Ledger[0].Word != "something else changed" || !strings.HasPrefix(f.Say, "Something else changed") {
		t.Errorf("a rise: %+v, said %q", f.Ledger[0], f.Say)
	}
	s = begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	s.act(capture.ActLift, "C104", "")
	s.again(ohmsHere, 0.84)
	s.act(capture.ActPutBack, "C104", "")
	s.again(ohmsHere, 95)
	if f = s.search(&b); !f.Ledger[0].Back || !strings.Contains(f.Ledger[0].Change, "something else changed") {
		t.Errorf("put back: %+v", f.Ledger[0])
	}
}

// Another meter or point after the lift is not compared.
func TestTrailUnlike(t *testing.T) {
	b := piano(t)
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	s.act(capture.ActLift, "C104", "")
	s.read(ohmsHere, "+5 V logic", "TP7", 100)
	if f := s.search(&b); f.Ledger[0].Word != "cannot tell" || !strings.Contains(f.Ledger[0].Say, "same points") {
		t.Errorf("%+v", f.Ledger[0])
	}
}

// Without a sheet the ledger works, and nothing is ranked.
func TestTrailWithoutSheet(t *testing.T) {
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.84)
	a, err := s.tr.Acts(nil, "lift Q7")
	if err != nil || a.Verb != capture.ActLift || a.Subject != "Q7" {
		t.Fatalf("%+v, %v", a, err)
	}
	s.post(a)
	s.again(ohmsHere, 149)
	if a, err = s.tr.Acts(nil, "alone Q7 0.7 ohm"); err != nil {
		t.Fatal(err)
	}
	s.post(a)
	f := s.search(nil)
	if len(f.Ledger) != 1 || f.Ledger[0].Word != "convicted" || len(f.Explanations) != 0 {
		t.Errorf("%+v", f)
	}
	if _, err = s.tr.Acts(nil, "source +5 V logic ok"); err == nil {
		t.Error("a test without a sheet was taken")
	}
}

// The indication weighs until its rail was measured.
func TestTrailIndication(t *testing.T) {
	b := piano(t)
	s := begun(t)
	if f := s.search(&b); len(f.Entries) != 1 || f.Entries[0] != "set says +3.3 V DSP" {
		t.Fatalf("entries %q", f.Entries)
	}
}

// A walk under the inject permit is fitted along the sheet's points.
func TestTrailWalk(t *testing.T) {
	b := piano(t)
	for i, p := range []string{"TP5", "L2", "C104", "CN3", "U7"} {
		b.Points = append(b.Points, TracePoint{Name: p, Rail: "+5 V logic", At: 0.02 * float64(i)})
	}
	s := begun(t)
	s.inject()
	for _, p := range []struct {
		name string
		v    float64
	}{{"U7", 0.0282}, {"TP5", 0}, {"L2", 0.00985}, {"C104", 0.0197}, {"CN3", 0.0282}} {
		s.read(voltsHere, "+5 V logic", p.name, p.v)
	}
	s.act(capture.ActOutput, "supply/1", "off")
	f := s.search(&b)
	if len(f.Walks) != 1 || f.Walks[0].Word != "found" || strings.Join(f.Walks[0].Between, " ") != "C104 CN3" {
		t.Fatalf("%+v", f.Walks)
	}
	if f.Walks[0].At < 0.055 || f.Walks[0].At > 0.059 {
		t.Errorf("at %g m, want 0.0573", f.Walks[0].At)
	}
}
