package report

import (
	unescape "html"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func words(t *testing.T, d capture.Dossier) string {
	t.Helper()
	return strings.ReplaceAll(unescape.UnescapeString(html(t, d)), nbsp, " ")
}

// chained is a fall that five alarms saw and that one was told of.
func chained() capture.Dossier {
	d := fullStory()
	d.Roster.Instruments[0].Channels[0].ID = "dmm/volts"
	told := collapseStory()
	told.Transitions = append(told.Transitions, capture.Transition{At: fall.Add(90 * time.Second), From: capture.LatchedHeard, To: capture.Normal, By: "R. Hale"})
	untold := func(kind, rail string, later time.Duration, end capture.AlarmState, why string) capture.AlarmStory {
		at := fall.Add(later)
		return capture.AlarmStory{Rule: kind + " " + rail, Kind: kind, Rail: rail, Raised: at, Cleared: at.Add(1700 * time.Millisecond), Say: rail + " " + kind + " said", Around: told.Around,
			Transitions: []capture.Transition{{At: at, From: capture.Normal, To: capture.Active, Muted: why}, {At: at.Add(1700 * time.Millisecond), From: capture.Active, To: end, Muted: why}}}
	}
	d.Alarms = []capture.AlarmStory{
		told,
		untold("collapse", "+3.3 V DSP", 700*time.Millisecond, capture.Latched, "+5 V logic feeds it"),
		untold("missing", "+5 V logic", 1100*time.Millisecond, capture.Returned, "told as collapse already"),
		untold("band", "+3.3 V DSP", 1800*time.Millisecond, capture.Returned, "told as collapse already"),
		untold("band", "+12 V audio", -time.Hour, capture.Returned, "muted by R. Hale"),
	}
	d.Soak.Failures = 1
	return d
}

func TestWhatNobodyWasToldOfIsOverWithItsCause(t *testing.T) {
	d := chained()
	views, untold, err := teller{d, options()}.alarms()
	if err != nil || len(views) != 1 || len(views[0].Followed) != 3 || views[0].Verdict.Word != "Over" {
		t.Fatalf("%d views, %v: %+v", len(views), err, views)
	}
	if f := views[0].Followed[2]; f.Why != "told as collapse already" || f.Length != "1.7"+nbsp+"s" || !strings.HasPrefix(f.Say, "+3.3") {
		t.Errorf("followed %+v", f)
	}
	if len(untold) != 1 || untold[0].Why != "muted by R. Hale" {
		t.Errorf("muted by a person and explained by nothing: %+v", untold)
	}
	got := words(t, d)
	for _, want := range []string{"Followed from it, over with it, and nobody was told:", "Over, and nobody was told", "+5 V logic feeds it", "and raised one alarm: not passed."} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	for _, never := range []string{"Stands open", "stand open", "stands open"} {
		if strings.Contains(got, never) {
			t.Errorf("says %q", never)
		}
	}
}

func TestAnUnheardAlarmThatWasToldStandsOpen(t *testing.T) {
	d := chained()
	a := &d.Alarms[0]
	a.Transitions, a.Heard = a.Transitions[:2], 0
	got := words(t, d)
	for _, want := range []string{"Stands open", "one alarm stands open", "Nobody has said that it was heard."} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	// While its condition is there, one that nobody was told of stands as well.
	d = chained()
	b := &d.Alarms[1]
	b.Transitions, b.Cleared = b.Transitions[:1], 0
	if got := words(t, d); !strings.Contains(got, "one alarm stands open") {
		t.Error("a condition that is still there does not stand open")
	}
}

// An alarm that was told anew says both sentences, and that the second was not
// heard yet.
func TestAnAlarmThatWasToldAnew(t *testing.T) {
	d := fullStory()
	const gone, other = "No reading on +5 V logic for 3.1 s: dmm is disconnected", "No reading on +5 V logic for 9 s: dmm is another instrument than was expected (458 is there, it was 457 before)"
	at := begin.Add(time.Hour)
	d.Alarms = []capture.AlarmStory{{Rule: "silent +5 V logic", Kind: "silent", Rail: "+5 V logic", Raised: at, Say: gone, Transitions: []capture.Transition{
		{At: at, To: capture.Active, Say: gone}, {At: at.Add(time.Second), From: capture.Active, To: capture.Heard, Say: gone, By: "R. Hale"},
		{At: at.Add(6 * time.Second), From: capture.Heard, To: capture.Active, Say: other},
	}}}
	got := words(t, d)
	for _, want := range []string{gone + ".", "raised", "heard, R. Hale", "told anew: " + other, "Nobody has said that it was heard since it was told anew."} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
}

func TestSoakLeadAgreesWithItsFailures(t *testing.T) {
	d := chained()
	d.Soak.Failures = 3
	if got := (teller{d, options()}).soakLead(); !strings.Contains(got, ", raised one alarm and saw 3 failures: not passed.") {
		t.Errorf("%q", got)
	}
	d.Alarms = nil
	if got := (teller{d, options()}).soakLead(); !strings.Contains(got, " and saw 3 failures: not passed.") {
		t.Errorf("%q", got)
	}
}

// The readings about a short are ohms: they are in no band of volts.
func TestAShortIsNotDrawnInVolts(t *testing.T) {
	d := fullStory()
	for _, ch := range []capture.ChannelID{"", "dmm/ohms"} {
		d.Alarms = []capture.AlarmStory{{Rule: "short +5 V logic", Kind: "short", Rail: "+5 V logic", Raised: begin, Cleared: begin.Add(55 * time.Second), Around: []capture.Point2{{At: begin, Value: .84, Good: true}},
			Transitions: []capture.Transition{{At: begin, To: capture.Active, Channel: ch}, {From: capture.Active, To: capture.Returned}, {From: capture.Returned, To: capture.Active}, {From: capture.Active, To: capture.Returned}}}}
		views, _, err := teller{d, options()}.alarms()
		if err != nil || views[0].Figure != nil {
			t.Errorf("channel %q: drawn, %v", ch, err)
		}
		if got := strings.Join(views[0].Facts, " "); strings.Contains(got, "outside the band") || !strings.Contains(got, "It came twice; 55"+nbsp+"s after the first the condition was gone.") {
			t.Errorf("channel %q: %q", ch, got)
		}
	}
}

func TestAsFoundIsSaidInTheWordsOfTheRail(t *testing.T) {
	d := clean()
	five := d.Rails[0].Rail
	d.Rails[0].Before = []capture.Result{
		result(five, capture.ColdChecks, capture.Resistance, .852, 1e-4, 0, "dmm/ohms", capture.Fail, "0.8520 Ω: short"),
		result(five, capture.LiveChecks, capture.DCVoltage, 4e-7, 1e-7, 1e-6, "dmm/volts", capture.Fail, "Off"),
	}
	d.Rails[3].Before = []capture.Result{
		result(d.Rails[3].Rail, capture.ColdChecks, capture.Resistance, 310, 1e-3, 0, "dmm/ohms", capture.NoData, "Wait: not steady yet"),
		result(d.Rails[3].Rail, capture.LiveChecks, capture.DCVoltage, .8, 1e-5, 1e-4, "dmm/volts", capture.Fail, "Fed from elsewhere, dragged or running down, 24 % of nominal"),
	}
	d.Entries = nil
	got := words(t, d)
	for _, want := range []string{"As found, +5 V logic: short, 0.8520 Ω; off. +3.3 V DSP: fed from elsewhere, dragged or running down, 24 % of nominal.", "<small>off</small>", "not steady, not judged"} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	if strings.Contains(got, "lifted") {
		t.Error("nothing was lifted")
	}
	d.Entries = []capture.Entry{
		{At: begin, Act: capture.Act{Verb: capture.ActLift, Subject: "CN3"}}, {At: begin + 1, Act: capture.Act{Verb: capture.ActLift, Subject: "PS2"}},
		{At: begin + 2, Act: capture.Act{Verb: capture.ActPutBack, Subject: "CN3"}}, {At: to, Act: capture.Act{Verb: capture.ActLift, Subject: "C104"}},
	}
	if got := words(t, d); !strings.Contains(got, "The live readings were taken with PS2 lifted.") {
		t.Error("a rail that is off because its converter is lifted is said to be found so")
	}
}

func TestADoubtIsSaidBelowTheTable(t *testing.T) {
	d := clean()
	d.Rails[0].After[0].Outcome, d.Rails[0].After[0].Say = capture.ConditionalPass, "Cannot tell: 0.01 V from the edge, meter ± 0.05 V"
	if r := (teller{d, options()}).rails()[0]; r.Verdict.Word != "Cannot tell" {
		t.Errorf("%q", r.Verdict.Word)
	}
	if got := words(t, d); !strings.Contains(got, "+5 V logic: cannot tell, 0.01 V from the edge, meter ± 0.05 V.") {
		t.Error("why it cannot be told is lost")
	}
}

// An answer is a person's; why nobody was told of the going says nothing of it.
func TestAnAnswerIsNotMuted(t *testing.T) {
	d := fullStory()
	d.Alarms[0].Transitions[2].Muted = "nothing stands on it"
	views, _, err := teller{d, options()}.alarms()
	if err != nil || views[0].Steps[2].Who != "R. Hale" {
		t.Errorf("%v %+v", err, views[0].Steps)
	}
}

func TestStatementsOfAccuracyAreSaidOnce(t *testing.T) {
	d := clean()
	in := &d.Roster.Instruments[0]
	in.Channels[1].Accuracy = []capture.Accuracy{{Range: 100, OfReading: .0001, Resolution: 1e-4}, {Range: 1e5, OfReading: .0001, Resolution: .1}, {Range: 1e7, OfReading: .0004, Resolution: 10}}
	twin := *in
	twin.Name, twin.Channels = "dmm9", []capture.ChannelInfo{in.Channels[0], in.Channels[1]}
	twin.Channels[0].ID, twin.Channels[1].ID = "dmm9/volts", "dmm9/ohms"
	d.Roster.Instruments = append(d.Roster.Instruments, twin)
	w := d.Rails[0].Watches[0]
	w.Channel = "dmm9/volts"
	d.Rails[0].Watches = append(d.Rails[0].Watches, w)
	var channels []string
	for _, g := range (teller{d, options()}).accuracies() {
		channels = append(channels, g.Channels)
	}
	if got, want := strings.Join(channels, "|"), "dmm/volts, dmm9/volts|dmm/ohms|dmm2/volts|thermo/celsius"; got != want {
		t.Errorf("groups %q, want %q", got, want)
	}
	got := words(t, d)
	for _, want := range []string{"100 kΩ", "10 MΩ", ">10 Ω<"} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
	for _, never := range []string{"e+0", "dmm9/ohms", "0.01 kΩ"} {
		if strings.Contains(got, never) {
			t.Errorf("says %q", never)
		}
	}
}

func TestTheHandIsAnInstrumentOnlyWhenItEnteredSomething(t *testing.T) {
	d := clean()
	d.Roster.Instruments = append(d.Roster.Instruments, capture.InstrumentInfo{Name: "by eye", Model: "hand", Title: "values read by eye and typed", Channels: []capture.ChannelInfo{{ID: "by eye/dc_voltage", Quantity: capture.DCVoltage}}})
	if strings.Contains(words(t, d), "values read by eye and typed") {
		t.Error("nothing was entered by eye")
	}
	entered := d
	entered.Entries = append([]capture.Entry{{At: begin, Act: capture.Act{Verb: "typed"}, Text: "Read by eye: 4.9 V."}}, d.Entries...)
	if !strings.Contains(words(t, entered), "values read by eye and typed") {
		t.Error("a value was entered by eye")
	}
	d.Rails[1].Before[1].Channel = "by eye/dc_voltage"
	if !strings.Contains(words(t, d), "values read by eye and typed") {
		t.Error("a figure was read by eye")
	}
}

// What is said of all rails alike is said once, and no figure twice in a row.
func TestVerdictsAndRulesAreSaidOnce(t *testing.T) {
	d := clean()
	d.Rules.Rules = nil
	for i, r := range d.Sheet.Rails {
		d.Rules.Rules = append(d.Rules.Rules, capture.Rule{Name: "silent " + r.Name, Kind: "silent", Rail: r.Name, Implied: true})
		d.Rails[i].Verdicts = append(d.Rails[i].Verdicts,
			capture.Verdict{Rule: "silent " + r.Name, Kind: "silent", Rail: r.Name, Outcome: capture.Pass, Say: "Reads"},
			capture.Verdict{Rule: "missing " + r.Name, Kind: "missing", Rail: r.Name, Outcome: capture.Pass, Say: "Is there: 5.001 V", Value: 5.001, Resolution: .001, Unit: "V", N: 1})
	}
	d.Rails[0].Verdicts = append(d.Rails[0].Verdicts, capture.Verdict{Rule: "short +5 V logic", Kind: "short", Rail: "+5 V logic", Outcome: capture.Pass, Say: "150.0 Ω: no short", Value: 150, Resolution: .1, Unit: "ohm", N: 5})
	seen := map[string]string{}
	for _, v := range (teller{d, options()}).verdicts() {
		seen[v.Rule] += strings.ReplaceAll(v.Rail+" "+v.Value+" "+v.Verdict.Word, nbsp, " ") + "|"
	}
	for rule, want := range map[string]string{"silent": "all four rails  Reads|", "missing": "all four rails  Is there|", "short": "+5 V logic 150.0 Ω No short|"} {
		if seen[rule] != want {
			t.Errorf("%s: %q, want %q", rule, seen[rule], want)
		}
	}
	if r := (teller{d, options()}).rules(); len(r) != 1 || r[0].Rail != tied("all four rails") {
		t.Errorf("rules %+v", r)
	}
}

func TestAReportIsNotWrittenBeforeItsLastRecord(t *testing.T) {
	o := options()
	o.Written = to.Add(-2 * time.Second)
	if got := (teller{clean(), o}).written(); !strings.Contains(got, "06:41:00") {
		t.Errorf("written %s, the last record is of %s", got, teller{clean(), o}.moment(to))
	}
}

func TestAnAnnouncementIsNoWork(t *testing.T) {
	var d capture.Dossier
	for _, text := range []string{"on", "switching off", "off"} {
		d.Entries = append(d.Entries, capture.Entry{Stage: capture.Trim, Act: capture.Act{Verb: capture.ActOutput, Text: text}, Text: text})
	}
	if _, standIn := (teller{d, options()}).work(); len(standIn) != 2 || standIn[1].Text != "off." {
		t.Errorf("%+v", standIn)
	}
	if log, _ := (teller{d, options()}).log(); len(log) != 3 {
		t.Errorf("the log lost an entry: %+v", log)
	}
}

func TestTheTemperatureIsDrawnBelow(t *testing.T) {
	d := fullStory()
	if got := words(t, d); strings.Contains(got, ">thermo/celsius</th>") || !strings.Contains(got, "stand-in case, °C") {
		t.Error("the strip of the stand-in's case is missing, or named by its channel")
	}
}
