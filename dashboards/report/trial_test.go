package report

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestAChangedRecordIsSaidFirst(t *testing.T) {
	d := clean()
	d.Broken = "record 12 does not follow from the one before"
	got := words(t, d)
	if n := strings.Count(got, "This record was changed after it was written:"); n != 2 {
		t.Errorf("said %d times", n)
	}
	head, _, _ := strings.Cut(got, "<dl")
	for _, never := range []string{"restored", "soak passed", ": passed."} {
		if strings.Contains(head, never) {
			t.Errorf("the head says %q", never)
		}
	}
}

func TestAnOverdueMeterIsSaidWithItsVerdict(t *testing.T) {
	d := clean()
	d.Roster.Instruments[0].CalibrationDue = "2001-01-01"
	if v := (teller{d, options()}).rails()[0].Verdict; v.Mark != "doubt" || v.Word != "Inside (indicated, calibration overdue)" {
		t.Errorf("%+v", v)
	}
}

func TestOnlyAConvictionIsLoud(t *testing.T) {
	row := func(text string) entryRow {
		return teller{clean(), options()}.entry(capture.Entry{Act: capture.Act{Verb: capture.ActFinding}, Text: text})
	}
	if r := row("CN3 lifted. Acquitted."); r.Finding || !r.Acquitted {
		t.Errorf("%+v", r)
	}
	if r := row("PS2 lifted. Convicted."); !r.Finding || r.Acquitted {
		t.Errorf("%+v", r)
	}
}

func TestASoakThatWasNotWatchedSaysSo(t *testing.T) {
	d := clean()
	d.Soak.Watched, d.Soak.Failures, d.Soak.Passed = 0, 0, false
	s := teller{d, options()}.soak()
	if s.Verdict.Word != "Not judged" || s.Facts[1].Value != "not watched" || len(s.Facts) != 2 {
		t.Errorf("%+v", s)
	}
}

func TestTheCommandToCheckWorks(t *testing.T) {
	d, o := clean(), options()
	for file, want := range map[string]string{"x.rec": "steadyrail verify " + d.Sheet.Job + " --workspace DIR", "/a/x.rec": "steadyrail verify /a/x.rec", "/a b/x.rec": `steadyrail verify "/a b/x.rec"`} {
		o.File = file
		if got := (teller{d, o}).seal().Command; got != want+` --head "`+groups(d.Head.Hash)+`"` {
			t.Errorf("%q", got)
		}
	}
}
