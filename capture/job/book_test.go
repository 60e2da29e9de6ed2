package job

import (
	"flag"
	"fmt"
	"os"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write the golden file anew")

// t0 is 2026-03-02 08:00:00 UTC.
const t0 = capture.Instant(1772438400_000000)

// script feeds items to a book, each a number of seconds after t0.
type script struct {
	book *Book
	at   capture.Instant
}

func (s *script) do(seconds float64, items ...capture.Item) capture.Instant {
	s.at = t0 + capture.Instant(seconds*1e6)
	for _, it := range items {
		s.book.Consume(capture.Record{At: s.at, Job: "AB-0147", Item: it})
		s.at++
	}
	return s.at - 1
}

func stage(to capture.Stage, why string) capture.Act {
	return capture.Act{Verb: capture.ActStage, Stage: to, Text: why}
}

func ohms(v float64) capture.Reading {
	return capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: v, Resolution: 0.01}
}

func volts(v float64) capture.Reading {
	return capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: v, Resolution: 0.001}
}

// alderbrook is the fictional repair that the whole project tells of.
func alderbrook() *script {
	s := &script{book: &Book{}}
	sheet := capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88", Symptom: "dead", Rails: []capture.Rail{
		{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: 5},
		{Name: "+12 V audio", Nominal: 12, Target: 12, Bounds: capture.Bounds{Low: 11.4, High: 12.6}, ShortBelow: 5}}}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{{ID: "dmm/volts"}, {ID: "dmm/ohms"}}}}}
	rules := capture.RuleSet{Engine: "1", Rules: []capture.Rule{{Name: "band +5 V logic"}}}
	s.do(0, OpenItems(sheet, roster, rules, []capture.ChannelID{"dmm/volts", "dmm/ohms"}, "M")...)
	s.do(30, capture.Act{Verb: capture.ActNote, Text: "Smells of nothing, no swollen capacitor"})
	s.do(60, stage(capture.ColdChecks, ""), capture.Act{Verb: capture.ActNull, Subject: "dmm/ohms", Value: 0.2134})
	wrong := s.do(70, capture.Placement{Channel: "dmm/ohms", Rail: "+12 V audio", Point: "TP12"})
	s.do(71, ohms(0.84))
	s.do(80, capture.Placement{Channel: "dmm/ohms", Rail: "+5 V logic", Corrects: wrong, By: "M", Why: "wrong test point"})
	s.do(90, stage(capture.Isolate, ""), capture.Act{Verb: capture.ActLift, Subject: "CN3"})
	s.do(100, ohms(0.85))
	s.do(110, capture.Act{Verb: capture.ActLift, Subject: "PS2"}, ohms(1920),
		capture.Act{Verb: capture.ActFinding, Subject: "PS2", Text: "convicted, the rail rose from 0.84 Ω to 1.92 kΩ when it was lifted"})
	s.do(200, stage(capture.Preset, "live checks and stand-in: nothing to check with the converter out"))
	s.do(210, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "on"}, capture.Act{Verb: capture.ActLimits, Subject: "supply", Text: "volts 24, amperes 0.3"})
	s.do(220, capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic", Point: "TP5", Hold: capture.Clipped}, volts(5.012),
		capture.Act{Verb: capture.ActTurn, Value: -0.75}, volts(4.998))
	s.do(230, stage(capture.ColdChecks, "before power: once more"))
	s.do(240, capture.Act{Verb: capture.ActPutBack, Subject: "CN3"})
	typed := volts(5.02)
	typed.Resolution, typed.Flags = 0.01, capture.Typed|capture.ByEye
	s.do(250, typed)
	s.do(300, stage(capture.Soak, "warm already"), capture.Act{Verb: capture.ActSoak, Text: "start", Value: 24 * 3600})
	s.do(3600, capture.Act{Verb: capture.ActLinkLost, Subject: "dmm", Text: "no answer"}, capture.Act{Verb: capture.ActLinkBack, Subject: "dmm"})
	s.do(7200, capture.Gap{From: t0 + 4000e6, To: t0 + 7200e6, Reason: "not running"})
	s.do(8000, capture.Act{Verb: capture.ActHeard, Subject: capture.AlarmID("collapse +5 V logic", t0), By: "M"},
		capture.Act{Verb: capture.ActReset, Subject: capture.AlarmID("collapse +5 V logic", t0), By: "M"},
		capture.Act{Verb: capture.ActMute, Subject: "band +5 V logic@1", Value: 600})
	s.do(300+6*3600+12*60, capture.Act{Verb: capture.ActSoak, Text: "stop"})
	s.do(23000, stage(capture.SignOff, ""), capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "switching off"}, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off"})
	s.do(23100, capture.Act{Verb: capture.ActClose, By: "M"})
	return s
}

func TestScriptedJob(t *testing.T) {
	b := alderbrook().book
	var out strings.Builder
	clock := func(at capture.Instant) string {
		if at == 0 {
			return "         "
		}
		return "+" + at.Time().Format("15:04:05")
	}
	for _, e := range b.Entries() {
		fmt.Fprintf(&out, "%s  %-11s  %s\n", clock(e.At), e.Stage, e.Text)
	}
	out.WriteString("\nstages\n")
	for _, s := range b.Stages() {
		fmt.Fprintf(&out, "%s  %s  %s  %s\n", clock(s.From), clock(s.To), s.Stage, s.Reason)
	}
	out.WriteString("\nsoaks\n")
	for _, s := range b.Soaks() {
		fmt.Fprintf(&out, "%s  %s  planned %s\n", clock(s.From), clock(s.To), Span(s.Planned))
	}
	out.WriteString("\ngaps\n")
	for _, g := range b.Gaps() {
		fmt.Fprintf(&out, "%s  %s  %s\n", clock(g.From), clock(g.To), g.Reason)
	}
	golden := "testdata/alderbrook.golden"
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(golden, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if out.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}

func TestWhatTheBookKnows(t *testing.T) {
	s := alderbrook()
	b := s.book
	if b.Sheet().Job != "AB-0147" || len(b.Roster().Instruments) != 1 || b.Rules().Engine != "1" {
		t.Error("sheet, roster or rules")
	}
	if b.Opened() != t0+3 || b.Closed() != t0+23100e6 {
		t.Errorf("opened %v closed %v", b.Opened(), b.Closed())
	}
	if st, since := b.Stage(); st != capture.SignOff || since != t0+23000e6 {
		t.Errorf("stage %v %v", st, since)
	}
	if n := b.Nulls(); len(n) != 1 || n[0].Ohms != 0.2134 || n[0].Subject != "dmm/ohms" {
		t.Errorf("nulls %+v", n)
	}
	if ty := b.Typed(); len(ty) != 1 || ty[0].Rail != "+5 V logic" || ty[0].Reading.Value != 5.02 || ty[0].Placement.Point != "TP5" {
		t.Errorf("typed %+v", ty)
	}
	if n := len(b.placed); n != 5 || len(b.Placements().Channels()) != 2 {
		t.Errorf("%d placements", n)
	}
}

// The corrected placement takes its readings along.
func TestNewestFollowsCorrections(t *testing.T) {
	b := alderbrook().book
	if r, ok := b.Newest("+12 V audio", capture.Resistance); ok {
		t.Errorf("+12 V audio still has %+v", r)
	}
	if r, ok := b.Newest("+5 V logic", capture.Resistance); !ok || r.Reading.Value != 1920 || r.Rail != "+5 V logic" {
		t.Errorf("ohms %+v %v", r, ok)
	}
	if r, ok := b.Newest("+5 V logic", capture.DCVoltage); !ok || r.Reading.Value != 5.02 {
		t.Errorf("volts %+v %v", r, ok)
	}
}

// What was read by eye does not hide what a meter measured before it.
func TestNewestMeasured(t *testing.T) {
	b := &Book{}
	for i, item := range []capture.Item{
		capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic"},
		capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 0.001},
		capture.Placement{Channel: "eye/volts", Rail: "+5 V logic"},
		capture.Reading{Channel: "eye/volts", Quantity: capture.DCVoltage, Value: 5.02, Flags: capture.ByEye},
	} {
		b.Consume(capture.Record{At: t0 + capture.Instant(i), Job: "AB-0147", Item: item})
	}
	if r, ok := b.Newest("+5 V logic", capture.DCVoltage); !ok || r.Reading.Value != 5.02 {
		t.Errorf("newest %+v", r)
	}
	if r, ok := b.NewestMeasured("+5 V logic", capture.DCVoltage); !ok || r.Reading.Value != 0.001 || r.At != t0+1 {
		t.Errorf("measured %+v", r)
	}
	if r, ok := b.NewestMeasured("+5 V logic", capture.Resistance); ok {
		t.Errorf("ohms of nobody: %+v", r)
	}
}

// Typed readings too are listed under the rail that they belong to by now.
func TestTypedFollowsCorrections(t *testing.T) {
	s := &script{book: &Book{}}
	at := s.do(1, capture.Placement{Channel: "hand/volts", Rail: "A"})
	s.do(2, capture.Reading{Channel: "hand/volts", Quantity: capture.DCVoltage, Value: 5, Flags: capture.Typed})
	s.do(3, capture.Placement{Channel: "hand/volts", Rail: "B", Corrects: at})
	if ty := s.book.Typed(); len(ty) != 1 || ty[0].Rail != "B" {
		t.Errorf("typed %+v", ty)
	}
	s.do(4, capture.Placement{Channel: "hand/volts", Rail: "C", Corrects: 99}) // of nothing
	if n := len(s.book.placed); n != 2 {
		t.Errorf("%d placements, want 2", n)
	}
}

// What is returned can be changed without changing the book.
func TestAnswersAreCopies(t *testing.T) {
	b := alderbrook().book
	b.Consume(capture.Record{At: t0 + 1e12, Item: capture.Sheet{Job: "x", NotChecked: []string{"a"}, Rails: []capture.Rail{{Name: "r", Feeds: []string{"f"}}}}})
	sheet, roster, rules := b.Sheet(), b.Roster(), b.Rules()
	sheet.NotChecked[0], sheet.Rails[0].Name, sheet.Rails[0].Feeds[0] = "", "", ""
	roster.Instruments[0].Channels[0].ID = ""
	rules.Rules[0].Name = ""
	b.Stages()[0].Stage, b.Soaks()[0].From, b.Entries()[0].Text, b.Gaps()[0].Reason, b.Nulls()[0].Ohms, b.Typed()[0].Rail = "", 0, "", "", 0, ""
	_ = b.Placements().Apply(t0+1e13, capture.Placement{Channel: "dmm/volts", Rail: "elsewhere"})
	if s := b.Sheet(); s.NotChecked[0] != "a" || s.Rails[0].Name != "r" || s.Rails[0].Feeds[0] != "f" || b.Roster().Instruments[0].Channels[0].ID != "dmm/volts" ||
		b.Rules().Rules[0].Name == "" || b.Stages()[0].Stage == "" || b.Soaks()[0].From == 0 || b.Entries()[0].Text == "" || b.Gaps()[0].Reason == "" ||
		b.Nulls()[0].Ohms == 0 || len(b.Placements().Spans("elsewhere")) != 0 {
		t.Error("the book changed with an answer")
	}
}

func TestBookIsSafeForConcurrentUse(t *testing.T) {
	b := &Book{}
	var wg sync.WaitGroup
	wg.Go(func() {
		s := &script{book: b}
		for i := range 500 {
			s.do(float64(i), capture.Placement{Channel: "dmm/volts", Rail: "r"}, volts(5), stage(capture.Stages()[i%10], "x"), capture.Act{Verb: capture.ActSoak, Text: "start"})
		}
	})
	for range 3 {
		wg.Go(func() {
			for range 200 {
				b.Sheet()
				b.Entries()
				b.Stages()
				b.Soaks()
				b.Newest("r", capture.DCVoltage)
				b.Placements()
				_ = b.Check(stage(capture.Soak, ""))
			}
		})
	}
	wg.Wait()
}

func TestSoakEndsWithItsStage(t *testing.T) {
	s := &script{book: &Book{}}
	s.do(1, stage(capture.Soak, "x"), capture.Act{Verb: capture.ActSoak, Text: "start"})
	s.do(100, stage(capture.SignOff, ""))
	if so := s.book.Soaks(); len(so) != 1 || so[0].To != t0+100e6 || so[0].Planned != 0 {
		t.Errorf("soaks %+v", so)
	}
	s.do(101, capture.Act{Verb: capture.ActSoak, Text: "start"})
	s.do(200, capture.Act{Verb: capture.ActClose})
	if so := s.book.Soaks(); len(so) != 2 || so[1].To != t0+200e6 {
		t.Errorf("soaks %+v", so)
	}
	if st := s.book.Stages(); st[len(st)-1].To != t0+200e6 {
		t.Errorf("stages %+v", st)
	}
}

func TestOpenItems(t *testing.T) {
	sheet := capture.Sheet{Job: "AB-0147"}
	got := OpenItems(sheet, capture.Roster{}, capture.RuleSet{Engine: "1"}, []capture.ChannelID{"a/v", "b/v"}, "M")
	want := []capture.Item{sheet, capture.Roster{}, capture.RuleSet{Engine: "1"}, capture.Act{Verb: capture.ActOpen, By: "M"},
		capture.Act{Verb: capture.ActStage, Stage: capture.TakeIn, By: "M"}, capture.Placement{Channel: "a/v", By: "M"}, capture.Placement{Channel: "b/v", By: "M"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v", got)
	}
	b := &Book{}
	for i, it := range got {
		if a, ok := it.(capture.Act); ok {
			if err := b.Check(a); err != nil {
				t.Errorf("%+v: %v", a, err)
			}
		}
		b.Consume(capture.Record{At: t0 + capture.Instant(i), Item: it})
	}
}

func TestSpan(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", 400 * time.Millisecond: "0.4 s", 9960 * time.Millisecond: "10 s", 59 * time.Second: "59 s", 60 * time.Second: "1 min", 59600 * time.Millisecond: "1 min",
		90 * time.Second: "1 min 30 s", 45 * time.Minute: "45 min", 599*time.Second + 600*time.Millisecond: "10 min",
		59*time.Minute + 40*time.Second: "1 h", 6*time.Hour + 12*time.Minute: "6 h 12 min", 24 * time.Hour: "24 h",
	} {
		if got := Span(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}
