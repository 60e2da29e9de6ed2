package app_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
)

// pocket is a meter without a port: 0.5 % and 2 counts.
func pocket(c *configs.Config) {
	c.Handhelds = []configs.Handheld{{Name: "pocket", CalibrationDue: "2099-03-01", Channels: []capture.ChannelInfo{
		{Quantity: capture.DCVoltage, Accuracy: []capture.Accuracy{{Range: 6, OfReading: 0.005, Digits: 2, Resolution: 0.001, Uncertainty: "invented"}}},
	}}}
}

func railOf(t *testing.T, s live.Snapshot, name string) live.RailView {
	t.Helper()
	j, _ := s.Job("")
	i := slices.IndexFunc(j.Rails, func(r live.RailView) bool { return r.Rail.Name == name })
	if i < 0 {
		t.Fatalf("no rail %s", name)
	}
	return j.Rails[i]
}

func (r *rig) enter(rail, text, meter string) dashboards.Result {
	r.t.Helper()
	res, err := r.Enter(r.t.Context(), "", dashboards.Typed{Rail: rail, Text: text, Meter: meter})
	r.must(err)
	return res
}

func TestTypedReadings(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test begins here"})

	for _, c := range []struct {
		rail, text string
		value, res float64
	}{{"1", "4.98", 4.98, 0.01}, {five, "4,98 V", 4.98, 0.01}, {"+5 v logic", "4980 mV", 4.98, 0.001}} {
		r.enter(c.rail, c.text, "pocket")
		got := railOf(t, r.Snapshot(), five).Volts
		if got == nil || got.Reading.Value != c.value || got.Reading.Resolution != c.res || !got.Reading.Flags.Has(capture.ByEye) || got.Reading.Channel != "pocket by eye/volts AB-0147" {
			t.Errorf("%s on rail %s: %+v", c.text, c.rail, got)
		}
	}
	res := r.enter("3", "-12.1", "")
	if got := railOf(t, r.Snapshot(), minus12).Volts; got == nil || got.Reading.Channel != "by eye/volts AB-0147" || !strings.Contains(res.Say, minus12) {
		t.Errorf("without a meter: %+v, %q", got, res.Say)
	}

	ctx := t.Context()
	_, err := r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "1,234"})
	var two *capture.Ambiguous
	if refused(t, "a figure that could be two", err, dashboards.Invalid, "1.234", "1234"); !errors.As(err, &two) {
		t.Errorf("not to be asked back: %v", err)
	}
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "9", Text: "5"})
	refused(t, "no such rail", err, dashboards.NotFound, "1 is "+five, "4 is "+dsp)
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "5", Meter: "a/b"})
	refused(t, "a meter with a slash", err, dashboards.Invalid)
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "1", Text: "OL"})
	refused(t, "over range of what", err, dashboards.Invalid, "OL V", "OL ohm")
	for text, want := range map[string]capture.Flags{"OL V": capture.OverRange, "-OL V": capture.UnderRange, "0L ohm": capture.OverRange} {
		r.enter("2", text, "")
		v := railOf(t, r.Snapshot(), twelve)
		last := v.Volts
		if strings.Contains(text, "ohm") {
			last = v.Ohms
		}
		if last == nil || last.Reading.HasValue() || !last.Reading.Flags.Has(want) || last.Reading.Text != "" {
			t.Errorf("%s: %+v", text, last)
		}
	}

	// It stays, with the accuracy of the meter that was named.
	r.pass(5 * time.Second)
	if got := railOf(t, r.Snapshot(), five); got.Volts == nil || got.Volts.Reading.Value != 4.98 {
		t.Errorf("after a while: %+v", got)
	}
	roster, ok := rosterNow(r)
	info, known := roster.Channel("pocket by eye/volts AB-0147")
	in, _ := roster.Instrument("pocket by eye")
	if !ok || !known || len(info.Accuracy) != 1 || in.CalibrationDue != "2099-03-01" || in.Model != "hand" {
		t.Errorf("roster: %+v", in)
	}
	r.stop()
	rec := r.read(jobID)
	judged := false
	for _, item := range rec.records {
		if ro, is := item.Item.(capture.Roster); is {
			_, judged = ro.Channel("pocket by eye/volts AB-0147")
		}
	}
	if !judged {
		t.Error("the last roster in the record lacks the meter")
	}
}

func rosterNow(r *rig) (capture.Roster, bool) {
	d, err := r.Dossier(r.t.Context(), jobID)
	r.must(err)
	return d.Roster, len(d.Roster.Instruments) > 0
}

// The second value of a meter is judged with its accuracy: 4.98 V ± (0.5 % and 2
// counts) is inside 4.9 to 5.1 V with U = 2·(0.0249 + 0.002)/√3 = 31 mV.
func TestTypedReadingsAreJudgedWithTheMetersAccuracy(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test begins here"})
	r.enter("1", "4.980", "pocket")
	r.enter("2", "12.00", "the old needle")
	r.pass(3 * time.Second)
	shown := railOf(t, r.Snapshot(), five)
	if !slices.ContainsFunc(shown.Verdicts, func(v capture.Verdict) bool {
		return v.Kind == "band" && v.Outcome == capture.Pass && v.Uncertainty > 0.030 && !v.Indicated
	}) {
		t.Errorf("on the screens after a while: %+v", shown.Verdicts)
	}
	d, err := r.Dossier(t.Context(), jobID)
	r.must(err)
	for _, rail := range d.Rails {
		for _, res := range slices.Concat(rail.Before, rail.After) {
			switch rail.Rail.Name {
			case five:
				if res.Uncertainty < 0.030 || res.Uncertainty > 0.033 || res.Outcome != capture.Pass {
					t.Errorf("%s: %+v", five, res)
				}
			case twelve:
				if res.Uncertainty != 0 {
					t.Errorf("%s: a meter that states nothing got an uncertainty: %+v", twelve, res)
				}
			}
		}
	}
	if got, _ := rail(d, five); len(slices.Concat(got.Before, got.After)) == 0 {
		t.Errorf("nothing of it is in the dossier: before %+v, after %+v", got.Before, got.After)
	}
}

func rail(d capture.Dossier, name string) (capture.RailEvidence, bool) {
	for _, r := range d.Rails {
		if r.Rail.Name == name {
			return r, true
		}
	}
	return capture.RailEvidence{}, false
}

func TestAWrongRailIsCorrected(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	r.enter(five, "5.03", "pocket")
	_, err := r.Enter(t.Context(), "", dashboards.Typed{Rail: five, Text: "12.02", Meter: "pocket", Sure: true}) // meant for +12 V
	r.must(err)
	res, err := r.Enter(t.Context(), "", dashboards.Typed{Rail: "2", InsteadOf: "1", Why: "wrong key"})
	r.must(err)
	if !strings.HasPrefix(res.Say, "Moves 12.02 V (read by eye from pocket, ") || !strings.Contains(res.Say, ") from "+five+" to "+twelve+"; both stay") || !strings.HasSuffix(res.Say, " Inside, indicated only: no accuracy is known for it.") {
		t.Errorf("said %q", res.Say)
	}
	s := r.Snapshot()
	if a, b := railOf(t, s, five).Volts, railOf(t, s, twelve).Volts; a == nil || a.Reading.Value != 5.03 || b == nil || b.Reading.Value != 12.02 {
		t.Errorf("on the screens: %+v and %+v", a, b)
	}
	// Back again, and there: a correction can be corrected.
	for _, to := range []string{"1", "2"} {
		from := map[string]string{"1": "2", "2": "1"}[to]
		if _, err := r.Enter(t.Context(), "", dashboards.Typed{Rail: to, InsteadOf: from}); err != nil {
			t.Fatal(err)
		}
	}
	_, err = r.Enter(t.Context(), "", dashboards.Typed{Rail: "1", InsteadOf: "4"})
	refused(t, "nothing to correct", err, dashboards.NotFound, dsp)
	_, err = r.Enter(t.Context(), "", dashboards.Typed{Rail: "1", InsteadOf: "2", Text: "5"})
	refused(t, "a new value in a correction", err, dashboards.Invalid)
	_, err = r.Enter(t.Context(), "", dashboards.Typed{Rail: "1", InsteadOf: "1"})
	refused(t, "from a rail to itself", err, dashboards.Invalid)

	var csv strings.Builder
	r.must(r.ExportCSV(t.Context(), jobID, capture.Point, &csv))
	d, err := r.Dossier(t.Context(), jobID)
	r.must(err)
	entries := ""
	for _, e := range d.Entries {
		entries += e.Text + "\n"
	}
	for _, want := range []string{"Read by eye from pocket: " + five + " 12.02 V.", "Corrected: the value read by eye from pocket belongs to " + twelve + ", not to " + five + ": wrong key."} {
		if !strings.Contains(entries, want) {
			t.Errorf("no %q in the entries\n%s", want, entries)
		}
	}
	if line := "pocket by eye/volts AB-0147," + twelve + ","; !strings.Contains(csv.String(), line) || !strings.Contains(csv.String(), "by_eye") {
		t.Errorf("no %q in\n%s", line, csv.String())
	}
}

// An entry that is hardly meant so is asked about, with what to type for either.
func TestTypedUnlikelyIsAskedBack(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	ask := func(typed dashboards.Typed, words ...string) dashboards.Doubt {
		t.Helper()
		_, err := r.Enter(t.Context(), "", typed)
		var d *dashboards.Doubt
		if refused(t, typed.Text, err, dashboards.Invalid, words...); !errors.As(err, &d) {
			t.Fatalf("%s is not asked back: %v", typed.Text, err)
		}
		return *d
	}
	d := ask(dashboards.Typed{Rail: "1", Text: "12.07", Meter: "pocket"}, "is it "+twelve+" (2)?",
		"steadyrail enter 2 12.07 --meter pocket (", "steadyrail enter 1 12.07 --meter pocket --sure (")
	if len(d.Choices) != 2 || d.Choices[0].Typed.Rail != twelve || d.Choices[0].Typed.Sure || !d.Choices[1].Typed.Sure {
		t.Errorf("choices: %+v", d.Choices)
	}
	d = ask(dashboards.Typed{Rail: "1", Text: "+4.98 mV"}, "a thousandth", "4.98 V?", `enter 1 "4.98 V"`, `enter 1 "+4.98 mV" --sure`)
	if d.Choices[0].Typed.Text != "4.98 V" {
		t.Errorf("choices: %+v", d.Choices)
	}
	ask(dashboards.Typed{Rail: "1", Text: "4980"}, "996 times the nominal", "is it 4.980 V?")
	ask(dashboards.Typed{Rail: "1", Text: "4.98", Meter: "poket"}, "did you mean pocket?", "--meter pocket (", "--meter poket --sure")
	ask(dashboards.Typed{Rail: "1", Text: "12.07", Meter: "poket"}, "did you mean pocket?", "is it "+twelve)
	if got := railOf(t, r.Snapshot(), five).Volts; got != nil {
		t.Errorf("filed all the same: %+v", got)
	}
	for _, c := range d.Choices { // either is taken as it stands
		if _, err := r.Enter(t.Context(), "", c.Typed); err != nil {
			t.Error(err)
		}
	}
	for _, text := range []string{"0.00", "0.01", "-0.01", "4.2", "5.9"} { // dead, dragged down, high
		r.enter("1", text, "")
	}
	r.enter("1", "4.98", "the old needle")
	if _, err := r.Enter(t.Context(), "", dashboards.Typed{Rail: "1", Text: "4.98", Meter: "poket", Sure: true}); err != nil {
		t.Error(err)
	}
	r.enter("1", "4.99", "poket") // confirmed once
}

// The answer to an entry is the rail's word. Without a stated accuracy it is
// indicated only.
func TestEnterSaysTheVerdict(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, pocket)
	r.open(jobID)
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.LiveChecks, Text: "a test begins here"})
	for _, c := range []struct{ rail, text, meter, want string }{
		{"1", "4.980", "pocket", five + ": 4.980 V, read by eye from pocket. Inside."},
		{"1", "4.981", "pocket", five + ": 4.981 V, read by eye from pocket. Inside."}, // the same outcome again
		{"1", "4.905", "pocket", "Cannot tell: "},
		{"1", "4.60", "pocket", ". Low by 0.40 V."},
		{"2", "12.00", "the old needle", ". Inside, indicated only: no accuracy is known for it."},
		{"1", "0.00", "", ". Off, indicated only: "},
	} {
		if res := r.enter(c.rail, c.text, c.meter); !strings.Contains(res.Say, c.want) {
			t.Errorf("%s on %s: %q, want %q", c.text, c.rail, res.Say, c.want)
		}
	}
}
