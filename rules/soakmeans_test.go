package rules

import (
	"math"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

// soaked is the dossier of a clipped soak of the +5 V rail, ± 2 %, whose
// readings come each 0.2 s as a function of the second says.
func soaked(t *testing.T, seconds float64, value func(s float64) (v float64, there bool)) capture.Dossier {
	t.Helper()
	log := opening(nil, five)
	dmm := log[1].Item.(capture.Roster).Instruments[0].Channels
	dmm[0].Aperture, dmm[0].Accuracy = 20*time.Millisecond, []capture.Accuracy{{Range: 10, OfReading: 0.0005, Resolution: 0.001, Digits: 2}}
	log = append(log, capture.Record{At: at(0.5), Item: capture.Act{Verb: capture.ActStage, Stage: capture.Soak}})
	for s := 1.0; s < seconds; s += 0.2 {
		if v, there := value(s); there {
			log = append(log, capture.Record{At: at(s) + 13, Item: volts("dmm/volts", v)})
		}
	}
	job := &shelfJob{log: log}
	job.transitions, _ = Replay(bg, walk(log), 0)
	d, err := BuildDossier(bg, job, Told{Soaks: []SoakSpan{{From: at(1), To: at(seconds)}}})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func saidIn(d capture.Dossier) string {
	return strings.ReplaceAll(strings.Join(d.Soak.Say, "\n"), "\u00a0", " ")
}

// The figure of a soak is its worst minute, not its worst reading: a minute that
// lies 20 mV lower counts, one reading far out moves a mean by little.
func TestTheFigureOfASoakIsItsWorstMinute(t *testing.T) {
	d := soaked(t, 602, func(s float64) (float64, bool) {
		switch n := math.Round(s * 5); {
		case n == 1000:
			return 4.85, true // one reading, too short for an alarm
		case s >= 300 && s < 420:
			return 5.001 - 0.02 + 0.001*math.Sin(n*n), true
		default:
			return 5.001 + 0.001*math.Sin(n*n), true
		}
	})
	f := d.Rails[0].Soak
	if f == nil || f.Windows != 9 || f.Inside != 9 || f.Outside != 0 || f.Outcome != capture.Pass {
		t.Fatalf("%+v", f)
	}
	if math.Abs(f.Value-4.981) > 0.0005 || f.N < 300 || f.Span < time.Minute || f.Uncertainty <= 0 || f.Rail != five.Name || f.Stage != capture.Soak {
		t.Errorf("%+v", f)
	}
	if !d.Soak.Passed {
		t.Errorf("not passed:\n%s", saidIn(d))
	}
	for _, want := range []string{"worst of 9 means over a minute 4.981 V ± 5.2 mV", "(k = 2), inside the band.", "1 of 3 005 readings lay outside the band", "100 ms in 5"} {
		if !strings.Contains(saidIn(d), want) {
			t.Errorf("%q is missing in\n%s", want, saidIn(d))
		}
	}
}

// All four outcomes of a worst minute, and what of them passes. The band is 4.9
// to 5.1 V and the meter good to a few millivolts.
func TestAWorstMinuteHasFourOutcomes(t *testing.T) {
	clean := soaked(t, 130, func(float64) (float64, bool) { return 5, true })
	u := clean.Rails[0].Soak.Uncertainty
	for _, c := range []struct {
		level   float64
		outcome capture.Outcome
		passed  bool
		say     string
	}{
		{4.9 + 1.5*u, capture.Pass, true, "inside the band."},
		{4.9 + 0.5*u, capture.ConditionalPass, true, "cannot tell, inside the band"},
		{4.9 - 0.5*u, capture.ConditionalFail, false, "cannot tell, outside the band"},
		{4.9 - 3*u, capture.Fail, false, "outside the band, and so were 2 in all."},
	} {
		d := soaked(t, 130, func(float64) (float64, bool) { return c.level, true })
		if f := d.Rails[0].Soak; f.Outcome != c.outcome || f.Windows != 2 {
			t.Errorf("%.4f V: %+v", c.level, f)
		}
		if d.Soak.Passed != c.passed || !strings.Contains(saidIn(d), c.say) {
			t.Errorf("%.4f V: passed %v, want %v\n%s", c.level, d.Soak.Passed, c.passed, saidIn(d))
		}
	}
}

// A window that a gap breaks is given up, and so is what is left at the end.
func TestWindowsDoNotReachAcrossGaps(t *testing.T) {
	d := soaked(t, 400, func(s float64) (float64, bool) { return 5, s < 90 || s > 200 })
	if f := d.Rails[0].Soak; f.Windows != 4 { // 1 to 61; 200 to 260, to 320, to 380
		t.Errorf("%+v", f)
	}
	if s := d.Soak; s.Pieces != 2 || len(s.Parts) != 2 || s.Parts[0].To > at(92) || s.Parts[1].From < at(200) {
		t.Errorf("%+v", s)
	}
	total := time.Duration(0)
	for _, p := range d.Soak.Parts {
		total += p.To.Sub(p.From)
	}
	if total != d.Soak.Watched || !strings.Contains(saidIn(d), "in 2 pieces of ") {
		t.Errorf("parts of %s, watched %s\n%s", total, d.Soak.Watched, saidIn(d))
	}
	if d := soaked(t, 30, func(float64) (float64, bool) { return 5, true }); d.Rails[0].Soak != nil || strings.Contains(saidIn(d), "over a minute") {
		t.Errorf("a minute of half a minute: %+v", d.Rails[0].Soak)
	}
}

// A minute with a collapse in it is left out: its mean is the level of nothing.
// The collapse is a failure by itself.
func TestAFallIsNoLevel(t *testing.T) {
	d := soaked(t, 400, func(s float64) (float64, bool) {
		if s > 100 && s < 103 {
			return 1.1, true
		}
		return 5 + 0.001*math.Sin(s*s), true
	})
	if f := d.Rails[0].Soak; f.Windows != 5 || f.Outcome != capture.Pass || math.Abs(f.Value-5) > 0.001 || f.Uncertainty > 0.01 {
		t.Errorf("%+v", f) // 1 to 61; 103 to 163 and so on, to 343
	}
	if d.Soak.Failures != 1 || d.Soak.Passed {
		t.Errorf("%+v", d.Soak)
	}
}

// Readings that all show the same claim no share; readings that scatter do, when
// enough of them are independent; a drift leaves too few.
func TestSoakSaysBetweenWhatTheReadingsLie(t *testing.T) {
	for name, c := range map[string]struct {
		value func(s float64) float64
		want  string
	}{
		"alike":   {func(float64) float64 { return 5.001 }, "how many count as independent cannot be told"},
		"scatter": {func(s float64) float64 { n := math.Round(s * 5); return 5.001 + 0.002*math.Sin(n*n) }, "with 95 % confidence at least 99 % of readings lie between"},
		"drift":   {func(s float64) float64 { return 5.001 + 0.0001*s }, "too few independent readings"},
	} {
		d := soaked(t, 302, func(s float64) (float64, bool) { return c.value(s), true })
		if !strings.Contains(saidIn(d), c.want) {
			t.Errorf("%s: %q is missing in\n%s", name, c.want, saidIn(d))
		}
		if !strings.Contains(saidIn(d), "of cases would have been seen") && d.Rails[0].Watches[0].Aperture > 0 {
			t.Errorf("%s: what was not seen is not said\n%s", name, saidIn(d))
		}
	}
}

// Two clips on one rail have one figure: the one that may lie further out with
// all of its U, for the windows of both.
func TestTheWorseOfTwoMetersStands(t *testing.T) {
	figure := func(v, u float64, windows, inside, outside int) *capture.SoakFigure {
		return &capture.SoakFigure{Result: capture.Result{Value: v, Uncertainty: u}, Windows: windows, Inside: inside, Outside: outside}
	}
	fine, coarse := figure(4.95, 0.002, 9, 9, 0), figure(4.98, 0.052, 5, 3, 1)
	for _, got := range []*capture.SoakFigure{worse(five, fine, coarse), worse(five, coarse, fine)} {
		if got.Value != 4.98 || got.Windows != 14 || got.Inside != 12 || got.Outside != 1 {
			t.Errorf("%+v", got)
		}
	}
	if high := worse(five, fine, figure(5.08, 0.002, 1, 1, 0)); high.Value != 5.08 || fine.Windows != 9 {
		t.Errorf("%+v, and the old one %+v", high, fine)
	}
	if worse(five, nil, fine) != fine || worse(five, fine, nil) != fine || worse(five, nil, nil) != nil {
		t.Error("one of nothing")
	}
}

// Where polls are slow a window goes on until it has ten readings, and where a
// person has switched the output off nothing is judged.
func TestWindowsOfSlowPollsAndOfOutputsThatAreOff(t *testing.T) {
	off := false
	m := &means{info: capture.ChannelInfo{ID: "dmm/volts", Every: 30 * time.Second}, rail: five, off: func(capture.Instant) bool { return off }}
	for i := range 30 {
		m.read(at(float64(30*i)), volts("dmm/volts", 5))
	}
	if m.worst.Windows != 3 || m.worst.N != 10 || m.worst.Span != 270*time.Second {
		t.Errorf("%+v", m.worst)
	}
	off = true
	for i := range 30 {
		m.read(at(float64(900+30*i)), volts("dmm/volts", 0))
	}
	off = false
	for i := range 12 {
		m.read(at(float64(1800+30*i)), volts("dmm/volts", 5))
	}
	if m.worst.Windows != 4 || m.worst.Outside != 0 {
		t.Errorf("%+v", m.worst)
	}
	var none *means
	none.read(at(1), volts("dmm/volts", 5)) // a channel that is no clip on a rail
}
