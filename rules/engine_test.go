package rules

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

var five = capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, ShortBelow: 5, ResetBelow: 4.63}
var dsp = capture.Rail{Name: "+3.3 V DSP", Nominal: 3.3, Target: 3.3, Bounds: capture.Bounds{Low: 3.2, High: 3.4}, ShortBelow: 5, FedFrom: "+5 V logic"}

func volts(ch string, v float64) capture.Reading {
	return capture.Reading{Channel: capture.ChannelID(ch), Quantity: capture.DCVoltage, Value: v, Resolution: 0.001}
}

func opening(rules []capture.Rule, rails ...capture.Rail) []capture.Record {
	sheet := capture.Sheet{Job: "AB-0147", Rails: rails}
	roster := capture.Roster{Instruments: []capture.InstrumentInfo{{Name: "dmm", Channels: []capture.ChannelInfo{
		{ID: "dmm/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond, Group: "input"},
		{ID: "dmm/ohms", Quantity: capture.Resistance, Every: 200 * time.Millisecond, Group: "input"},
	}}, {Name: "dmm2", Channels: []capture.ChannelInfo{{ID: "dmm2/volts", Quantity: capture.DCVoltage, Every: 200 * time.Millisecond}}}}}
	if rules == nil {
		rules = Implied(sheet, roster)
	}
	return []capture.Record{
		{At: epoch + 1, Item: sheet}, {At: epoch + 2, Item: roster}, {At: epoch + 3, Item: capture.RuleSet{Rules: rules, Engine: Version}},
		{At: epoch + 4, Item: capture.Act{Verb: capture.ActStage, Stage: capture.Soak}},
		{At: epoch + 5, Item: capture.Placement{Channel: "dmm/volts", Rail: rails[0].Name, Hold: capture.Clipped}},
	}
}

// TestWorkedSequence holds the worked sequence of the reference file: a high
// limit with a deadband, no on-delay.
func TestWorkedSequence(t *testing.T) {
	var file worked
	published(t, "worked.json", &file)
	seq := file.Sequences[0]
	five := five
	five.Bounds = capture.Bounds{Low: seq.Limits[0], High: seq.Limits[1]}
	rule := capture.Rule{Name: "band", Kind: "band", Rail: five.Name, Deadband: seq.Deadband}
	e := New("")
	for _, r := range opening([]capture.Rule{rule}, five) {
		e.Consume(r)
	}
	for i, v := range seq.Readings {
		e.Consume(capture.Record{At: at(1 + float64(i)/5), Item: volts("dmm/volts", v)})
		if got := e.watchers[0].state.IsActive(); got != seq.High[i] {
			t.Errorf("reading %g V: active %v, want %v", v, got, seq.High[i])
		}
	}
}

func TestAlarmComesAtTheVeryReading(t *testing.T) {
	e := New("")
	for _, r := range opening(nil, five) {
		e.Consume(r)
	}
	e.Consume(capture.Record{At: at(1) + 13, Item: volts("dmm/volts", 5.011)})
	out := e.Consume(capture.Record{At: at(1.2) + 13, Item: volts("dmm/volts", 3.087)})
	if len(out.Transitions) != 1 {
		t.Fatalf("%d transitions", len(out.Transitions))
	}
	tr := out.Transitions[0]
	want := capture.Transition{
		At: at(1.2) + 13, Alarm: capture.AlarmID("collapse +5 V logic", at(1.2)+13), Rule: "collapse +5 V logic", Kind: "collapse",
		Rail: "+5 V logic", Severity: capture.Urgent, From: capture.Normal, To: capture.Active, Raised: at(1.2) + 13,
		Value: 3.087, Unit: "V", Channel: "dmm/volts", Evidence: []capture.Instant{at(1) + 13, at(1.2) + 13},
		Say: tr.Say, Advice: tr.Advice, Limit: tr.Limit,
	}
	if !reflect.DeepEqual(tr, want) {
		t.Errorf("got  %+v\nwant %+v", tr, want)
	}
	if tr.Limit < 4.6999 || tr.Limit > 4.7001 {
		t.Errorf("limit %g V: the low edge less the band's width is 4.7 V", tr.Limit)
	}
}

func TestReadingsOfBeforeTheMoveAreNotJudged(t *testing.T) {
	e := New("")
	for _, r := range opening(nil, five, dsp) {
		e.Consume(r)
	}
	e.Consume(capture.Record{At: at(1), Item: volts("dmm/volts", 5)})
	e.Consume(capture.Record{At: at(2), Item: capture.Placement{Channel: "dmm/volts", Rail: dsp.Name, Hold: capture.Clipped}})
	late := volts("dmm/volts", 5)
	late.Measured = at(1.9)
	e.Consume(capture.Record{At: at(2.05), Item: late})
	for _, v := range e.Verdicts() {
		if v.Rail == dsp.Name && v.Outcome != capture.NoData {
			t.Errorf("%s: %s", v.Rule, v.Say)
		}
	}
	fresh := volts("dmm/volts", 3.3)
	fresh.Measured = at(2.1)
	out := e.Consume(capture.Record{At: at(2.2), Item: fresh})
	if !slices.ContainsFunc(out.Verdicts, func(v capture.Verdict) bool { return v.Rule == "band "+dsp.Name && v.Say == "Inside" }) {
		t.Errorf("verdicts %+v", out.Verdicts)
	}
}

func TestTypedValuesAreJudged(t *testing.T) {
	e := New("")
	for _, r := range opening(nil, five)[:4] {
		e.Consume(r)
	}
	e.Consume(capture.Record{At: at(1), Item: capture.Placement{Channel: "hand/volts", Rail: five.Name}})
	r := volts("hand/volts", 4.5)
	r.Flags, r.Resolution = capture.Typed|capture.ByEye, 0.1
	r.Measured, r.HalfWidth = at(1.1), 10*time.Second // looked at before it was filed
	out := e.Consume(capture.Record{At: at(1.1), Item: r})
	if !slices.ContainsFunc(out.Verdicts, func(v capture.Verdict) bool {
		return v.Kind == "band" && plain(v.Say) == "Low by 0.5 V" && v.Indicated
	}) || len(out.Transitions) != 0 {
		t.Errorf("%+v", out)
	}
}

// TestAlarmsHoldWhileNobodyCanTell: a link that is lost in the middle of a
// collapse neither ends it nor starts another.
func TestAlarmsHoldWhileNobodyCanTell(t *testing.T) {
	e := New("")
	for _, r := range opening(nil, five) {
		e.Consume(r)
	}
	step := func(sec float64, item capture.Item) []capture.Transition {
		return e.Consume(capture.Record{At: at(sec) + 13, Item: item}).Transitions
	}
	step(1, volts("dmm/volts", 5))
	if got := step(1.2, volts("dmm/volts", 3)); len(got) != 1 {
		t.Fatalf("%+v", got)
	}
	for i, item := range []capture.Item{
		capture.Act{Verb: capture.ActLinkLost, Subject: "dmm"}, volts("dmm/volts", 3), volts("dmm/volts", 4.8),
		capture.Gap{From: at(1.6), To: at(1.7)}, volts("dmm/volts", 3),
	} {
		if got := step(1.4+0.2*float64(i), item); len(got) != 0 {
			t.Errorf("step %d: %+v", i, got)
		}
	}
	got := step(4, volts("dmm/volts", 5))
	if len(got) != 1 || got[0].To != capture.Latched {
		t.Errorf("back in band: %+v", got)
	}
}

func TestRuleSetChanges(t *testing.T) {
	start := func() (*Engine, []capture.Rule) {
		e := New("")
		log := opening(nil, five)
		for _, r := range log {
			e.Consume(r)
		}
		e.Consume(capture.Record{At: at(1), Item: volts("dmm/volts", 5)})
		e.Consume(capture.Record{At: at(1.2), Item: volts("dmm/volts", 3)})
		return e, slices.Clone(log[2].Item.(capture.RuleSet).Rules)
	}
	set := func(e *Engine, rules []capture.Rule) []capture.Transition {
		return e.Consume(capture.Record{At: at(1.3), Item: capture.RuleSet{Rules: rules}}).Transitions
	}
	e, rules := start()
	if got := set(e, rules); len(got) != 0 || named(e.watchers, "collapse +5 V logic").state != capture.Active {
		t.Errorf("unchanged rules: %+v", got)
	}
	e, rules = start()
	got := set(e, slices.DeleteFunc(rules, func(r capture.Rule) bool { return r.Kind == "collapse" }))
	if len(got) != 1 || got[0].To != capture.Normal || got[0].Say != "rule removed" || got[0].Muted == "" {
		t.Errorf("removed: %+v", got)
	}
	e, rules = start()
	rules[0].Limit = 4
	if got := set(e, rules); len(got) != 1 || got[0].Say != "rule changed" || got[0].From != capture.Active {
		t.Errorf("changed: %+v", got)
	}
	// A sheet that is recorded again without a change leaves everything alone.
	e, _ = start()
	sheet := capture.Sheet{Job: "AB-0147", Rails: []capture.Rail{five}, Customer: "written later"}
	if got := e.Consume(capture.Record{At: at(1.3), Item: sheet}).Transitions; len(got) != 0 {
		t.Errorf("same rails: %+v", got)
	}
}

// TestNoteOnTheSheetKeepsWatch: writing the customer down does not disarm a
// rail that is powered from elsewhere while an output is off.
func TestNoteOnTheSheetKeepsWatch(t *testing.T) {
	e := New("")
	log := opening(nil, five)
	log = append(log, capture.Record{At: epoch + 9, Item: capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off"}})
	for s := 1.0; s < 13; s += 0.2 {
		log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", 5)})
	}
	log = append(log, capture.Record{At: at(13), Item: capture.Sheet{Job: "AB-0147", Rails: []capture.Rail{five}, Customer: "written later"}})
	live(e, log, log[0].At, at(14))
	if out := e.Consume(capture.Record{At: at(14.1), Item: volts("dmm/volts", 3)}); len(out.Transitions) != 1 {
		t.Errorf("not watched: %+v", e.Verdicts())
	}
}

func TestBadRulesAreToldAndLeftOut(t *testing.T) {
	e := New("")
	rules := []capture.Rule{
		{Name: "a", Kind: "band", Rail: five.Name},
		{Name: "b", Kind: "horoscope", Rail: five.Name},
		{Name: "c", Kind: "band", Rail: "+9 V"},
		{Name: "a", Kind: "missing", Rail: five.Name},
	}
	for _, r := range opening(rules, five) {
		e.Consume(r)
	}
	if len(e.watchers) != 1 || len(e.Problems()) != 3 {
		t.Errorf("%d in force, problems %v", len(e.watchers), e.Problems())
	}
}

func TestImplied(t *testing.T) {
	sheet := capture.Sheet{Rails: []capture.Rail{five, {Name: "core", Nominal: 1, Target: 1, Bounds: capture.NoBounds()}}}
	var names []string
	for _, r := range Implied(sheet, capture.Roster{}) {
		names = append(names, r.Name)
		if !r.Implied {
			t.Errorf("%s does not say that it is implied", r.Name)
		}
	}
	want := "collapse +5 V logic, missing +5 V logic, band +5 V logic, silent +5 V logic, short +5 V logic, collapse core, missing core, silent core"
	if got := strings.Join(names, ", "); got != want {
		t.Errorf("got %s", got)
	}
	if errs := Check(sheet, capture.RuleSet{Rules: Implied(sheet, capture.Roster{})}); len(errs) != 0 {
		t.Error(errs)
	}
}

func TestHeardAndResetByEverySubject(t *testing.T) {
	for _, subject := range []string{"", five.Name, "collapse +5 V logic", capture.AlarmID("collapse +5 V logic", at(1.2))} {
		e := New("")
		for _, r := range opening(nil, five) {
			e.Consume(r)
		}
		e.Consume(capture.Record{At: at(1), Item: volts("dmm/volts", 5)})
		e.Consume(capture.Record{At: at(1.2), Item: volts("dmm/volts", 3)})
		e.Consume(capture.Record{At: at(1.4), Item: volts("dmm/volts", 5)})
		out := e.Consume(capture.Record{At: at(2), Item: capture.Act{Verb: capture.ActReset, Subject: subject, By: "K. Alder"}}).Transitions
		// A latch that is reset unheard is heard at the same moment: E, F, A.
		if len(out) != 2 || out[0].To != capture.LatchedHeard || out[1].To != capture.Normal || out[1].By != "K. Alder" {
			t.Errorf("subject %q: %+v", subject, out)
		}
	}
	e := New("")
	for _, r := range opening(nil, five) {
		e.Consume(r)
	}
	e.Consume(capture.Record{At: at(1), Item: volts("dmm/volts", 5)})
	e.Consume(capture.Record{At: at(1.2), Item: volts("dmm/volts", 3)})
	if out := e.Consume(capture.Record{At: at(2), Item: capture.Act{Verb: capture.ActReset}}).Transitions; len(out) != 0 {
		t.Errorf("a latch was reset while the alarm was there: %+v", out)
	}
}
