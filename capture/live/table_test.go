package live_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

func TestNewestStandsUnderItsRail(t *testing.T) {
	s := opened(t)
	s.volts(1, 5.012)
	s.put(2, capture.Reading{Channel: "supply/volts", Quantity: capture.DCVoltage, Value: 24})
	s.put(3, on("dmm/volts", "+12 V audio"))
	s.tab.Consume(capture.Record{At: at(3.1), Item: capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 7}})
	s.volts(4, 12.1)

	five, twelve := s.rail("+5 V logic"), s.rail("+12 V audio")
	if five.Volts == nil || five.Volts.Reading.Value != 5.012 || five.Live || five.Volts.At != at(1) {
		t.Errorf("+5 V: %+v", five)
	}
	if twelve.Volts == nil || twelve.Volts.Reading.Value != 12.1 || !twelve.Live || twelve.Placement.Channel != "dmm/volts" {
		t.Errorf("+12 V: %+v", twelve)
	}
	if n := len(twelve.Trace); n != 1 || twelve.Trace[0].N != 1 || twelve.Trace[0].Max != 12.1 {
		t.Errorf("a reading of no rail is in its trace: %+v", twelve.Trace)
	}
	ch, _ := s.tab.Snapshot().Channel("dmm/volts")
	if ch.Job != "AB-0147" || ch.Last.Reading.Value != 12.1 || ch.LastGood != at(4) || ch.Outcomes["good"] != 3 {
		t.Errorf("channel: %+v", ch)
	}
}

func TestAbsenceIsTheNewestToo(t *testing.T) {
	s := opened(t)
	s.volts(1, 5.012)
	s.volts(2, 0, capture.Disconnected)
	r := s.rail("+5 V logic")
	if r.Volts.Reading.HasValue() || r.Trace[0].N != 1 || r.Trace[0].Bad != 1 || r.Trace[0].Min != 5.012 {
		t.Errorf("%+v", r)
	}
	ch, _ := s.tab.Snapshot().Channel("dmm/volts")
	if ch.LastGood != at(1) || ch.Outcomes["disconnected"] != 1 {
		t.Errorf("%+v", ch)
	}
}

func TestOhmsAndPoints(t *testing.T) {
	s := opened(t)
	s.put(1, on("dmm/volts", ""), on("dmm/ohms", "+5 V logic"))
	s.put(2, capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: 0.84})
	s.put(2, on("supply/volts", ""), on("thermo/celsius", ""), capture.Placement{Channel: "thermo/celsius", Point: "stand-in case"})
	s.put(3, capture.Reading{Channel: "supply/volts", Quantity: capture.DCVoltage, Value: 24},
		capture.Reading{Channel: "thermo/celsius", Quantity: capture.Temperature, Value: 41.5})
	s.volts(3, 0.001)
	if r := s.rail("+5 V logic"); r.Ohms.Reading.Value != 0.84 || r.Volts != nil || !r.Live || r.Placement.Channel != "dmm/ohms" {
		t.Errorf("%+v", r)
	}
	var got []string
	for _, p := range s.view().Points {
		got = append(got, fmt.Sprintf("%s at %q: %g, %d", p.Channel, p.Placement.Point, p.Last.Reading.Value, len(p.Trace)))
	}
	want := []string{`supply/volts at "": 24, 1`, `thermo/celsius at "stand-in case": 41.5, 1`}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("points %q, want %q", got, want)
	}
}

// Ohms read backwards are shown while they are read, and not as the rail's once the
// leads are said to be the right way round, not even when a placement was corrected.
func TestOhmsReadBackwards(t *testing.T) {
	s := opened(t)
	ohms := func(v float64) capture.Reading {
		return capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: v}
	}
	turned := func(way string) capture.Act {
		return capture.Act{Verb: capture.ActPolarity, Subject: "dmm", Text: way}
	}
	is := func(when string, want float64) {
		t.Helper()
		if got := s.rail("+5 V logic").Ohms.Reading.Value; got != want {
			t.Errorf("%s: %g, want %g", when, got, want)
		}
	}
	s.put(1, on("dmm/volts", ""), on("dmm/ohms", "+5 V logic"))
	s.put(2, ohms(145))
	s.put(3, turned(capture.Reverse))
	s.put(4, on("dmm/ohms", "+5 V logic"))
	s.put(5, ohms(0.7))
	is("while they are read", 0.7)
	s.put(6, turned(capture.Forward))
	is("the right way round again", 145)
	s.put(7, on("dmm/ohms", "+12 V audio"))
	s.put(8, ohms(4700))
	mend := on("dmm/ohms", "+5 V logic")
	mend.Corrects, mend.Why = at(7), "still on +5 V"
	s.put(9, mend)
	is("what was filed elsewhere", 4700)
}

func TestCorrectionMovesWhatWasFiled(t *testing.T) {
	s := opened(t)
	s.volts(1, 5.0)
	s.put(10, on("dmm/volts", "+12 V audio"))
	s.volts(11, 5.1)
	s.volts(12, 5.2)
	s.put(20, on("dmm/volts", "+12 V audio"))
	s.volts(21, 12.0)
	mend := on("dmm/volts", "+5 V logic")
	mend.Corrects, mend.Why = at(10), "still on +5 V"
	s.put(30, mend)
	five, twelve := s.rail("+5 V logic"), s.rail("+12 V audio")
	if five.Volts.Reading.Value != 5.2 || five.Live || count(five.Trace) != 3 {
		t.Errorf("+5 V: %+v", five)
	}
	if twelve.Volts.Reading.Value != 12 || !twelve.Live || count(twelve.Trace) != 1 {
		t.Errorf("+12 V: %+v", twelve)
	}
}

func count(trace []capture.Bucket) (n int) {
	for _, b := range trace {
		n += b.N
	}
	return n
}

func TestStagesSoakEntries(t *testing.T) {
	s := opened(t)
	s.put(10, capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	s.put(20, capture.Act{Verb: capture.ActLift, Subject: "CN3", Text: "logic board off"})
	s.put(21, capture.Act{Verb: capture.ActSoak, Text: "start", Value: 6 * 3600})
	v := s.view()
	if v.Soak == nil || v.Soak.From != at(21) || v.Soak.To != 0 || v.Soak.Planned != 21600 {
		t.Errorf("soak %+v", v.Soak)
	}
	s.put(30, capture.Act{Verb: capture.ActSoak, Text: "stop"}, capture.Act{Verb: capture.ActSoak, Text: "stop"},
		capture.Gap{From: at(31), To: at(31 + 4320), Reason: "computer slept"})
	s.volts(31, 5.02, capture.Typed)
	v = s.view()
	if v.Stage != capture.ColdChecks || v.StageSince != at(10) || len(v.Stages) != 2 || v.Stages[0].To != at(10) {
		t.Errorf("stages %+v", v.Stages)
	}
	if v.Soak.To != at(30) {
		t.Errorf("soak %+v", v.Soak)
	}
	var got []string
	for _, e := range v.Entries {
		got = append(got, e.Text)
	}
	want := []string{
		"open.", "stage cold checks.", "lift CN3 logic board off.", "soak start.", "soak stop.",
		"soak stop.", "The record has a gap of 1 h 12 min: computer slept.", "Typed: 5.020 V on +5 V logic.",
	}
	for i := range want {
		want[i] = noBreak(want[i])
	}
	for i := range got {
		got[i] = noBreak(got[i])
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("entries\n%q, want\n%q", got, want)
	}
	for range 1000 {
		s.put(40, capture.Act{Verb: capture.ActNote, Text: "x"})
	}
	if n := len(s.view().Entries); n != 200 {
		t.Errorf("%d entries", n)
	}
}

// When there was no power stays known of a job of any length: its entries go, and so
// do alarms that ended.
func TestPowerOffIsOfTheWholeJob(t *testing.T) {
	s := opened(t)
	s.put(20, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off"})
	s.put(30, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "on"})
	for i := range 300 {
		s.put(40, capture.Act{Verb: capture.ActNote, Text: "x"})
		s.tab.SetTransition(s.job, capture.Transition{Alarm: fmt.Sprint(i), Kind: "collapse", Rail: "+5 V logic", Raised: at(35) + capture.Instant(i)})
	}
	off := s.view().Off
	last := off[len(off)-1]
	want := []capture.RailFell{{Rail: "+5 V logic", First: at(35), Last: at(35) + 299}}
	if last.Output != "supply" || last.From != at(20) || last.To != at(30) || !reflect.DeepEqual(last.Fell, want) {
		t.Errorf("%+v", off)
	}
}

// noBreak makes ordinary spaces of unbreakable ones: which of them stands before
// a unit is not this room's decision.
func noBreak(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r == '\u00a0' || r == '\u202f' {
			out[i] = ' '
		}
	}
	return string(out)
}

func TestAlarmsWorstFirstAndPast(t *testing.T) {
	s := opened(t)
	raise := func(id string, sev capture.Severity, to capture.AlarmState, seconds float64) {
		s.tab.SetTransition(s.job, capture.Transition{Alarm: id, Severity: sev, To: to, Raised: at(seconds), Evidence: []capture.Instant{1}})
	}
	raise("a", capture.Warning, capture.Active, 1)
	raise("b", capture.Urgent, capture.Latched, 2)
	raise("c", capture.Urgent, capture.Active, 3)
	raise("d", capture.Urgent, capture.Active, 4)
	raise("d", capture.Urgent, capture.Heard, 4)
	raise("e", capture.Notice, capture.Active, 5)
	raise("e", capture.Notice, capture.Normal, 5)
	var got string
	for _, a := range s.view().Alarms {
		got += a.Alarm
	}
	if got != "cdba" {
		t.Errorf("order %s", got)
	}
	raised := map[string]capture.AlarmState{}
	for _, c := range s.view().Courses {
		raised[c.Alarm] = c.Raised.To
	}
	if len(raised) != 4 || raised["d"] != capture.Active || raised["b"] != capture.Latched {
		t.Errorf("courses %v", raised)
	}
	if p := s.view().Past; len(p) != 1 || p[0].Alarm != "e" {
		t.Errorf("past %+v", p)
	}
	for i := range 100 {
		raise(fmt.Sprint(i), capture.Notice, capture.Normal, 9)
	}
	if p := s.view().Past; len(p) != 50 || p[0].Alarm != "99" {
		t.Errorf("%d past, first %s", len(p), p[0].Alarm)
	}
}

func TestVerdictsReplaceAndGoWithTheirRules(t *testing.T) {
	s := opened(t)
	s.tab.SetVerdicts(s.job, []capture.Verdict{{Rule: "band +5 V logic", Rail: "+5 V logic", Outcome: capture.Fail}, {Rule: "short", Rail: "+5 V logic"}})
	s.tab.SetVerdicts(s.job, []capture.Verdict{{Rule: "band +5 V logic", Rail: "+5 V logic", Outcome: capture.Pass}})
	if v := s.rail("+5 V logic").Verdicts; len(v) != 2 || v[0].Outcome != capture.Pass || v[1].Rule != "short" {
		t.Errorf("%+v", v)
	}
	s.put(1, capture.RuleSet{Rules: []capture.Rule{{Name: "short"}}})
	if v := s.rail("+5 V logic").Verdicts; len(v) != 1 || v[0].Rule != "short" {
		t.Errorf("%+v", v)
	}
}

func TestJobVanishesWithItsClosing(t *testing.T) {
	s := opened(t)
	s.volts(1, 5)
	s.put(2, capture.Act{Verb: capture.ActClose})
	s.put(3, capture.Act{Verb: capture.ActNote}, on("dmm/volts", "+5 V logic"))
	s.tab.SetTransition(s.job, capture.Transition{Alarm: "late"})
	s.tab.SetVerdicts(s.job, []capture.Verdict{{Rule: "late"}})
	snap := s.tab.Snapshot()
	if len(snap.Jobs) != 0 {
		t.Errorf("%+v", snap.Jobs)
	}
	if ch, _ := snap.Channel("dmm/volts"); ch.Job != "" || ch.Last == nil {
		t.Errorf("%+v", ch)
	}
	s.put(4, board(s.job), on("dmm/volts", "+5 V logic"))
	if r := s.rail("+5 V logic"); r.Volts != nil || len(r.Trace) != 0 {
		t.Errorf("opened again, it remembers %+v", r)
	}
}

// The trace of a rail holds exactly what was filed there, whatever the probe
// did in between.
func TestTraceIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := script{nil, live.New("east", false, nil), "AB-0147"}
		s.put(0, board(s.job), bench(), on("dmm/volts", "+5 V logic"))
		rails := []string{"+5 V logic", "+12 V audio", ""}
		now, rail := 0.0, "+5 V logic"
		type got struct {
			n, bad        int
			min, max, sum float64
		}
		want := map[string]map[int64]*got{}
		for range rapid.IntRange(1, 300).Draw(t, "n") {
			now += rapid.Float64Range(0.01, 8).Draw(t, "pause")
			if rapid.IntRange(0, 5).Draw(t, "move") == 0 {
				rail = rapid.SampledFrom(rails).Draw(t, "rail")
				s.put(now, on("dmm/volts", rail))
				now += 0.001
			}
			v := rapid.Float64Range(-20, 20).Draw(t, "v")
			bad := rapid.IntRange(0, 9).Draw(t, "bad") == 0
			if bad {
				s.volts(now, v, capture.TimedOut)
			} else {
				s.volts(now, v)
			}
			if want[rail] == nil {
				want[rail] = map[int64]*got{}
			}
			cell := int64(at(now)) / 5e6
			g := want[rail][cell]
			if g == nil {
				g = &got{min: math.Inf(1), max: math.Inf(-1)}
				want[rail][cell] = g
			}
			if bad {
				g.bad++
				continue
			}
			g.n++
			g.sum += v
			g.min, g.max = min(g.min, v), max(g.max, v)
		}
		view, _ := s.tab.Snapshot().Job("")
		for _, r := range view.Rails {
			if len(r.Trace) > 120 {
				t.Fatalf("%d buckets", len(r.Trace))
			}
			seen := 0
			for i, b := range r.Trace {
				if i > 0 && b.From != r.Trace[i-1].To {
					t.Fatalf("bucket at %v after one to %v", b.From, r.Trace[i-1].To)
				}
				g := want[r.Rail.Name][int64(b.From)/5e6]
				if g == nil {
					if b.N+b.Bad != 0 {
						t.Fatalf("%+v from nowhere", b)
					}
					continue
				}
				seen++
				if b.N != g.n || b.Bad != g.bad || g.n > 0 && (b.Min != g.min || b.Max != g.max || math.Abs(b.Mean*float64(g.n)-g.sum) > 1e-9) {
					t.Fatalf("%s: %+v, want %+v", r.Rail.Name, b, g)
				}
			}
			for cell := range want[r.Rail.Name] {
				if cell > int64(at(now))/5e6-120 {
					seen--
				}
			}
			if seen != 0 {
				t.Fatalf("%s: %d cells too many", r.Rail.Name, seen)
			}
		}
	})
}

// full is a table where every field of a snapshot is filled.
func full(t testing.TB) script {
	s := opened(t)
	s.put(1, capture.Act{Verb: capture.ActSoak, Text: "start"}, on("dmm/ohms", "+5 V logic"), capture.Placement{Channel: "thermo/celsius", Point: "case"})
	s.volts(2, 5)
	s.put(2, capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance}, capture.Reading{Channel: "thermo/celsius", Quantity: capture.Temperature})
	for _, to := range []capture.AlarmState{capture.Active, capture.Normal} {
		s.tab.SetTransition(s.job, capture.Transition{Alarm: to.String(), To: to, Evidence: []capture.Instant{1}})
	}
	s.tab.SetVerdicts(s.job, []capture.Verdict{{Rule: "band", Rail: "+5 V logic"}})
	s.tab.SetInstrument(live.InstrumentView{Info: bench().Instruments[0], Up: true})
	s.tab.SetInstrument(live.InstrumentView{Info: bench().Instruments[0], Problem: "gone"})
	s.tab.SetNotifiers([]live.NotifierView{{Name: "webhook"}})
	s.tab.SetChannel("dmm/volts", true, 0.021)
	s.tab.SetSpeed(60)
	return s
}

// addresses collects where everything lies that a value points to.
func addresses(v reflect.Value, path string, out map[uintptr]string) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Map:
		if v.IsNil() || v.Kind() == reflect.Slice && v.Cap() == 0 {
			return
		}
		out[v.Pointer()] = path
	}
	switch v.Kind() {
	case reflect.Pointer:
		addresses(v.Elem(), path, out)
	case reflect.Slice:
		for i := range v.Len() {
			addresses(v.Index(i), path+"[]", out)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			addresses(v.Field(i), path+"."+v.Type().Field(i).Name, out)
		}
	}
}

func TestSnapshotSharesNothing(t *testing.T) {
	s := full(t)
	one, two := s.tab.Snapshot(), s.tab.Snapshot()
	if !reflect.DeepEqual(one, two) {
		t.Fatal("two looks at the same state differ")
	}
	first, second := map[uintptr]string{}, map[uintptr]string{}
	addresses(reflect.ValueOf(one), "", first)
	addresses(reflect.ValueOf(two), "", second)
	if len(first) < 25 {
		t.Errorf("only %d parts: the table is not full", len(first))
	}
	for a, path := range second {
		if _, shared := first[a]; shared {
			t.Errorf("%s is shared", path)
		}
	}
	if one.Speed != 60 || !one.Simulated || one.Instruments[0].Problem != "gone" || len(one.Instruments) != 1 || one.Notifiers[0].Name != "webhook" {
		t.Errorf("%+v", one)
	}
	if c, _ := one.Channel("dmm/volts"); !c.Selected || c.Exchange != 0.021 {
		t.Errorf("%+v", c)
	}
}

func TestSubscriptionNewestWins(t *testing.T) {
	s := opened(t)
	wake, stop := s.tab.Subscribe()
	before := s.tab.Version()
	for i := range 1000 {
		s.volts(float64(i+1), 5)
	}
	<-wake
	select {
	case <-wake:
		t.Error("woken twice without looking")
	default:
	}
	if s.tab.Version() < before+1000 {
		t.Error("the version did not grow")
	}
	// Ticks alone wake once a second, for the ages that are shown.
	woken := 0
	capture.Ticks(at(1000), at(1010), func(i capture.Instant) bool {
		s.tab.Consume(capture.Record{At: i, Item: capture.Tick{}})
		select {
		case <-wake:
			woken++
		default:
		}
		return true
	})
	if woken != 10 {
		t.Errorf("ten seconds of silence woke %d times", woken)
	}
	if now := s.tab.Snapshot().Now; now != at(1010) {
		t.Errorf("now is %v", now)
	}
	stop()
	stop()
	s.volts(2000, 5)
	select {
	case <-wake:
		t.Error("woken after the end")
	case <-time.After(time.Millisecond):
	}
}
