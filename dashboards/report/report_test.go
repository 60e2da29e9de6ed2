package report

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	unescape "html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write the golden reports anew")

func html(t *testing.T, d capture.Dossier) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, d, options()); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func shapes() map[string]capture.Dossier {
	return map[string]capture.Dossier{"full": fullStory(), "clean": clean(), "empty": emptyJob(), "nothing": {}, "negative": negativeOnly(), "onesided": oneSided(), "judged": judgedStory(), "trend": trendStory()}
}

func TestGolden(t *testing.T) {
	for name, d := range shapes() {
		t.Run(name, func(t *testing.T) {
			got := html(t, d)
			// The style is in the file beside this one; a golden of the words is enough.
			got = strings.Replace(got, styleText, "/* report.css */\n", 1)
			path := filepath.Join("../../testdata/golden/report", name+".html")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("differs from %s: look at it, then run with -update", path)
			}
		})
	}
}

// void are the elements that are never closed in HTML.
var void = []string{"meta", "link", "br", "img", "input", "hr", "!doctype"}

// balance reports the first tag that does not close the one that is open.
func balance(text string) error {
	var open []string
	for _, m := range regexp.MustCompile(`(?s)<(/?)(!?[a-zA-Z][a-zA-Z0-9-]*)((?:"[^"]*"|[^">])*?)(/?)>`).FindAllStringSubmatch(text, -1) {
		name := strings.ToLower(m[2])
		switch {
		case m[4] == "/" || slices.Contains(void, name):
		case m[1] == "":
			open = append(open, name)
		case len(open) == 0 || open[len(open)-1] != name:
			return fmt.Errorf("</%s> closes %v", name, open)
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		return fmt.Errorf("left open: %v", open)
	}
	return nil
}

func TestBalanceCheckCanFail(t *testing.T) {
	for _, bad := range []string{"<p><b></p></b>", "<p>", "</p>"} {
		if balance(bad) == nil {
			t.Errorf("%q passed", bad)
		}
	}
}

func TestWellFormedAndSelfContained(t *testing.T) {
	for name, d := range shapes() {
		t.Run(name, func(t *testing.T) {
			got := html(t, d)
			if err := balance(got); err != nil {
				t.Error(err)
			}
			inner := strings.ReplaceAll(got, "http://www.w3.org/2000/svg", "")
			for _, outside := range []string{"http://", "https://", "//", "@import", "<script", "<link", "<img", " src=", "javascript:", "ZgotmplZ", "&lt;no value"} {
				if i := strings.Index(inner, outside); i >= 0 {
					t.Errorf("holds %q: %s", outside, inner[max(0, i-30):min(len(inner), i+60)])
				}
			}
			for _, u := range regexp.MustCompile(`(?:href="|url\()([^")]*)`).FindAllStringSubmatch(got, -1) {
				id := strings.TrimPrefix(u[1], "#")
				if id == u[1] || strings.Count(got, `id="`+id+`"`) != 1 {
					t.Errorf("reference %q does not lead to one place in the file", u[1])
				}
			}
			if n := strings.Count(got, "<h1"); n != 1 {
				t.Errorf("%d main headings", n)
			}
		})
	}
}

func TestTextIsEscaped(t *testing.T) {
	evil := `<script>alert("x")</script>"'&}*/</style>`
	d := fullStory()
	s := &d.Sheet
	s.Job, s.Set, s.Board, s.Symptom, s.Technician, s.SerialNumber, s.Customer, s.Indication, s.Bench = evil, evil, evil, evil, evil, evil, evil, evil, evil
	s.NotChecked = []string{evil}
	s.Rails = slices.Clone(s.Rails)
	s.Rails[0].Name, s.Rails[0].Point = evil, evil
	d.Rails[0].Rail = s.Rails[0]
	d.Rails[0].Before[0].Say, d.Rails[0].Verdicts[0].Say, d.Rails[0].Verdicts[0].Rule = evil, evil, evil
	d.Alarms[0].Rail, d.Alarms[0].Say, d.Alarms[0].Kind = evil, evil, evil
	d.Alarms[0].Transitions[0].By, d.Alarms[0].Transitions[0].Muted = evil, evil
	for i := range d.Entries {
		d.Entries[i].Text, d.Entries[i].Act.Text = evil, evil
	}
	d.Gaps[0].Reason, d.Head.Hash, d.Rules.Engine, d.Rules.Rules[0].Name = evil, evil, evil, evil
	in := &d.Roster.Instruments[0]
	in.Title, in.Identity.Serial, in.CalibrationDue, in.Channels[0].Accuracy[0].Uncertainty = evil, evil, evil, evil
	d.Points[0].Point, d.Stages[0].Reason, d.Soak.Say[0] = evil, evil, evil
	var b bytes.Buffer
	if err := HTML(&b, d, Options{Title: evil, Workshop: evil, Version: evil, File: evil}); err != nil {
		t.Fatal(err)
	}
	got := b.String()
	if strings.Contains(got, "<script") || strings.Contains(got, `alert("`) {
		t.Error("a name reached the page unescaped")
	}
	if n := strings.Count(got, "</style"); n != 1 {
		t.Errorf("%d ends of the style sheet", n)
	}
	if err := balance(got); err != nil {
		t.Error(err)
	}
}

func TestHeadlineClaimsOnlyWhatIsProven(t *testing.T) {
	mutate := func(f func(*capture.Dossier)) capture.Dossier { d := clean(); f(&d); return d }
	tests := map[string]struct {
		d    capture.Dossier
		want string
		not  string
	}{
		"fit":          {clean(), "+5 V logic and +3.3 V DSP restored, soak passed", "not yet fit"},
		"alarm stands": {fullStory(), "+5 V logic and +3.3 V DSP restored, not yet fit to sign off", "soak passed"},
		"alarm only":   {mutate(func(d *capture.Dossier) { d.Alarms = []capture.AlarmStory{collapseStory()} }), "not yet fit to sign off", "soak passed"},
		"alarm reset": {mutate(func(d *capture.Dossier) {
			a := collapseStory()
			a.Transitions = append(a.Transitions, capture.Transition{From: capture.LatchedHeard, To: capture.Normal})
			d.Alarms = []capture.AlarmStory{a}
		}), "soak passed", "not yet fit"},
		"no soak":     {mutate(func(d *capture.Dossier) { d.Soak = nil }), "restored, not yet fit to sign off", "soak passed"},
		"soak failed": {mutate(func(d *capture.Dossier) { d.Soak.Passed = false }), "not yet fit to sign off", "soak passed"},
		"odd soak":    {mutate(func(d *capture.Dossier) { d.Soak.Failures = 1 }), "not yet fit to sign off", "soak passed"},
		"no after":    {mutate(func(d *capture.Dossier) { d.Rails[0].After, d.Rails[3].After = nil, nil }), "failed as found, not yet fit", "restored"},
		"cannot tell": {mutate(func(d *capture.Dossier) {
			d.Rails[0].After[0].Outcome, d.Rails[3].After[0].Outcome = capture.ConditionalPass, capture.ConditionalPass
		}), "not yet fit", "restored"},
		"outside":   {mutate(func(d *capture.Dossier) { d.Rails[2].After[0].Outcome = capture.Fail }), "−12 V audio outside, not yet fit", "restored"},
		"indicated": {mutate(func(d *capture.Dossier) { d.Rails[1].Verdicts[0].Indicated = true }), "not yet fit", "soak passed"},
		"nothing was bad": {mutate(func(d *capture.Dossier) {
			d.Rails[0].Before[0].Outcome, d.Rails[3].Before[1].Outcome = capture.Pass, capture.Pass
		}), "All four rails inside, soak passed", "restored"},
		"empty":    {emptyJob(), "Nothing measured yet", "fit"},
		"no rails": {capture.Dossier{}, "No rails named", "fit"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			got := strings.ReplaceAll(teller{tt.d, options()}.headline(), nbsp, " ")
			if !strings.Contains(got, tt.want) || strings.Contains(got, tt.not) {
				t.Errorf("%q, want %q and never %q", got, tt.want, tt.not)
			}
		})
	}
}

func TestNotCheckedIsSaidOnceAndNeverLost(t *testing.T) {
	d := capture.Dossier{Sheet: capture.Sheet{NotChecked: []string{"restart after a power cut", "keybed"}}}
	d.NotChecked = []string{"Start-up shape (overshoot): not checked", "Ripple and noise: not checked, no channel declares a bandwidth", "keybed"}
	got := strings.Join(teller{d, options()}.notChecked(), "|")
	for _, want := range []string{"Restart after a power cut.", "Keybed.", "Start-up shape", "Ripple", "Safety tests", "Stability", "Electromagnetic"} {
		if strings.Count(got, want) != 1 {
			t.Errorf("%q stands %d times in %s", want, strings.Count(got, want), got)
		}
	}
	if strings.Contains(got, "Shape of the start") {
		t.Error("the start is said twice")
	}
}

func TestStrayReadingsAreSaid(t *testing.T) {
	d := clean()
	if got := (teller{d, options()}).strays(); len(got) != 0 {
		t.Errorf("nothing strayed, yet %q", got)
	}
	d.Rails[0].Watches[0].Min = 3.087
	got := strings.ReplaceAll(html(t, d), nbsp, " ")
	if !strings.Contains(got, "V logic left its band without raising an alarm: they went from 3.087 V to 5.025 V.") {
		t.Error("a reading outside the band stands only in the statistics")
	}
}

func TestTheEmptyJobDoesNotLie(t *testing.T) {
	for _, name := range []string{"empty", "nothing"} {
		got := html(t, shapes()[name])
		for _, want := range []string{"No soak was run", "No alarm was raised", "Nothing was judged", "No instrument served this job", "not a calibration certificate", "cannot be checked against a file"} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: does not say %q", name, want)
			}
		}
		for _, never := range []string{"1970", "NaN", "Inside<", "0.000"} {
			if strings.Contains(got, never) {
				t.Errorf("%s: says %q", name, never)
			}
		}
	}
}

func TestWhatAReportMustHold(t *testing.T) {
	got := strings.ReplaceAll(unescape.UnescapeString(html(t, fullStory())), nbsp, " ")
	for _, want := range []string{
		"Simulated bench.", "R. Hale", "004417", "0.84", "5.009", "212", "covers on", "down to 3.087", "Not watched", "35 798", "UTC+01:00",
		"between 0.2 s", "2031-02-28, overdue", "rest on dmm2, whose calibration is overdue", "Keybed and pedals.", "loop", "local codes", "b7e1 40c9", "Unchanged since head", "does not prove",
		"Not passed", "Stands open", "10 ms", "0.1 s", "End of report AB-0147", "AB-0147 · head b7e140c9",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("does not say %q", want)
		}
	}
}

func TestWordsOfFigures(t *testing.T) {
	tests := []struct{ got, want string }{
		{spread(capture.Volt, .0021, .001), "0.003 V"}, // rounded up: never smaller than computed
		{spread(capture.Volt, .0561, .01), "0.06 V"},
		{spread(capture.Volt, .0004, .001), "0.001 V"},
		{spread(capture.Volt, 0, .001), ""},
		{percent(.99996), "over 99.9 %"}, {percent(1), "100 %"}, {percent(.994), "99.4 %"}, {percent(.31), "31 %"}, {percent(.0002), "under 0.1 %"}, {percent(0), "0 %"},
		{span(390 * time.Millisecond), "0.39 s"}, {span(161 * time.Second), "2 min 41 s"}, {span(8 * time.Hour), "8 h"}, {span(10 * time.Millisecond), "10 ms"}, {span(59*time.Minute + 59700*time.Millisecond), "60 min"}, {span(7*time.Hour + 57*time.Minute), "7 h 57 min"}, {span(42 * time.Second), "42 s"},
		{whole(572780), "572 780"}, {whole(12), "12"},
		{bandText(story4[0]), "4.90 to 5.10 V"}, {bandText(story4[2]), "−12.60 to −11.40 V"}, {bandText(story4[3]), "3.201 to 3.399 V"}, {bandText(capture.Rail{}), "none declared"},
		{bandText(capture.Rail{Bounds: capture.Bounds{Low: 22, High: capture.NoBounds().High}}), "22.00 V or above"},
	}
	for _, tt := range tests {
		if got := strings.ReplaceAll(tt.got, nbsp, " "); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}

func TestHowLongAFallLasted(t *testing.T) {
	low, high, n := lasted(story4[0], collapseStory().Around)
	if low != 200*time.Millisecond || high != 600*time.Millisecond || n != 2 {
		t.Errorf("%v to %v, %d readings; want 0.2 to 0.6 s, 2", low, high, n)
	}
}

func TestClocksChangedDuringTheJob(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	d := capture.Dossier{From: capture.InstantOf(time.Date(2030, 3, 30, 20, 0, 0, 0, berlin)), To: capture.InstantOf(time.Date(2030, 3, 31, 8, 0, 0, 0, berlin))}
	if got := (teller{d, Options{Zone: berlin}}).zone(); !strings.Contains(got, "+01:00") || !strings.Contains(got, "+02:00") {
		t.Errorf("%q names not both offsets", got)
	}
}

func TestWriterErrorIsReturned(t *testing.T) {
	if err := HTML(broken{}, clean(), Options{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }
