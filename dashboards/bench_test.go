package dashboards_test

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards"
	"steadyrail/dashboards/chart"
)

const token = "a-token-for-tests-0123456789"

// fakeBench is a bench on paper: a snapshot that tests change, and a list of
// what was done to it.
type fakeBench struct {
	mu    sync.Mutex
	snap  live.Snapshot
	subs  map[chan struct{}]bool
	did   []string
	fails error
}

func newFake(s live.Snapshot) *fakeBench {
	return &fakeBench{snap: s, subs: map[chan struct{}]bool{}}
}

func (f *fakeBench) change(with func(*live.Snapshot)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	// Snapshots that were handed out belong to their takers: change a copy.
	f.snap.Jobs = slices.Clone(f.snap.Jobs)
	f.snap.Instruments = slices.Clone(f.snap.Instruments)
	for i := range f.snap.Jobs {
		f.snap.Jobs[i].Rails = slices.Clone(f.snap.Jobs[i].Rails)
		f.snap.Jobs[i].Alarms = slices.Clone(f.snap.Jobs[i].Alarms)
	}
	with(&f.snap)
	f.snap.Version++
	for c := range f.subs {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

func (f *fakeBench) acts() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]string{}, f.did...)
}

func (f *fakeBench) do(format string, args ...any) (dashboards.Result, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fails != nil {
		return dashboards.Result{}, f.fails
	}
	f.did = append(f.did, fmt.Sprintf(format, args...))
	return dashboards.Result{Job: "AB-0147", At: f.snap.Now, Say: "Done."}, nil
}

func (f *fakeBench) Snapshot() live.Snapshot {
	f.mu.Lock()
	defer f.mu.Unlock()
	s := f.snap
	s.Jobs = append([]live.JobView{}, s.Jobs...)
	return s
}

func (f *fakeBench) Subscribe() (<-chan struct{}, func()) {
	c := make(chan struct{}, 1)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.subs[c] = true
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.subs, c)
	}
}

func (f *fakeBench) Jobs(context.Context) ([]dashboards.JobSummary, error) {
	return []dashboards.JobSummary{{Job: "AB-0147", Set: "Alderbrook 88 stage piano", Opened: start}}, f.fails
}

func (f *fakeBench) Series(_ context.Context, job, rail string, q capture.Quantity, from, to capture.Instant, points int) ([]capture.Bucket, error) {
	if f.fails != nil {
		return nil, f.fails
	}
	b := wave(5.012, .002, from, to, min(points, 200))
	b[3] = capture.Bucket{From: b[3].From, To: b[3].To, Bad: 2}
	return b, nil
}

func (f *fakeBench) Transitions(context.Context, string) ([]capture.Transition, error) {
	return []capture.Transition{collapse()}, f.fails
}

func (f *fakeBench) ExportCSV(_ context.Context, job string, mark capture.DecimalMark, w io.Writer) error {
	if job == "none" {
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: "no job none"}
	}
	line := "at,channel,value\n"
	if mark == capture.Comma {
		line = "at;channel;value\n"
	}
	_, err := io.WriteString(w, line)
	if job == "torn" {
		return fmt.Errorf("disk went away")
	}
	return err
}

func (f *fakeBench) Report(_ context.Context, job string, w io.Writer) error {
	_, err := io.WriteString(w, "<!doctype html><title>Report</title>")
	return err
}

func (f *fakeBench) OpenJob(_ context.Context, s capture.Sheet) (dashboards.Result, error) {
	return f.do("open %s with %d rails", s.Job, len(s.Rails))
}
func (f *fakeBench) Place(_ context.Context, job string, p capture.Placement) (dashboards.Result, error) {
	return f.do("place %s on %s %s", p.Channel, p.Rail, p.Hold)
}
func (f *fakeBench) MayPlace(_ context.Context, job string, p capture.Placement) (dashboards.MayPlace, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if p.Return == "-12 V audio" {
		return dashboards.MayPlace{Job: "AB-0147", Say: "It would short.", Loop: []string{"One wire.", "Another."}, Advice: "Take it off.", Cautions: []string{"c"}}, f.fails
	}
	return dashboards.MayPlace{Job: "AB-0147", OK: true, Say: string(p.Channel) + " may go on " + p.Rail + ".", Loop: []string{}, Cautions: []string{}}, f.fails
}
func (f *fakeBench) Lows(string) []chart.Low {
	return []chart.Low{{Channel: "dmm/volts", Word: "low", Net: "0 V", Tie: "isolated"}, {Channel: "supply/volts", Word: "minus", Net: "0 V", Tie: "earthed"},
		{Channel: "dmm3/volts", Word: "low", Net: "-12 V audio", Tie: "isolated"}}
}
func (f *fakeBench) Permit(_ context.Context, job string, r dashboards.PermitRequest) (dashboards.Permit, error) {
	if _, err := f.do("permit %s for %s %g V %g %g %g A", r.Kind, r.Subject, r.Volts, r.Trace, r.Part, r.Lead); err != nil {
		return dashboards.Permit{}, err
	}
	return dashboards.Permit{Code: "a-code", Say: r.Subject + " will be switched on.", Until: start, Notes: capture.TripCaution[:]}, nil
}
func (f *fakeBench) SwitchOn(_ context.Context, job string, s dashboards.SwitchOn) (dashboards.Result, error) {
	return f.do("on %s by permit %s", s.Subject, s.Permit)
}
func (f *fakeBench) Enter(_ context.Context, job string, t dashboards.Typed) (dashboards.Result, error) {
	if t.InsteadOf != "" {
		return f.do("correct %s to %s: %s", t.InsteadOf, t.Rail, t.Why)
	}
	if _, _, err := capture.Volt.ParseTyped(t.Text, capture.Point); err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "enter a value for " + t.Rail, Err: err}
	}
	if t.Text == "12.07" && t.Rail == "+5 V logic" && !t.Sure {
		other, sure := t, t
		other.Rail, sure.Sure = "+12 V audio", true
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Err: &dashboards.Doubt{
			Question: "Is it +12 V audio (2)?", Choices: []dashboards.Choice{{Label: "on +12 V audio", Typed: other}, {Label: "it is so", Typed: sure}},
		}}
	}
	if t.Meter != "" {
		return f.do("enter %s on %s from %s", t.Text, t.Rail, t.Meter)
	}
	return f.do("enter %s on %s", t.Text, t.Rail)
}
func (f *fakeBench) Act(_ context.Context, job string, a capture.Act) (dashboards.Result, error) {
	return f.do("%s %s %s %s %g", a.Verb, a.Subject, a.Stage, a.Text, a.Value)
}
func (f *fakeBench) TestNotifier(_ context.Context, name string) (dashboards.Result, error) {
	return f.do("test %s", name)
}
func (f *fakeBench) Reload(context.Context) (dashboards.Result, error) { return f.do("reload") }

// start is when the night's soak of the mocks began.
var start = capture.InstantOf(time.Date(2026, 11, 24, 22, 41, 0, 0, time.UTC))

func rail(name string, nominal, tolerance float64, point string) capture.Rail {
	w := math.Abs(nominal) * tolerance
	return capture.Rail{Name: name, Nominal: nominal, Target: nominal, Bounds: capture.Bounds{Low: nominal - w, High: nominal + w}, Point: point, Return: "0 V", ShortBelow: 5}
}

func wave(mean, noise float64, from, to capture.Instant, n int) []capture.Bucket {
	var out []capture.Bucket
	step := (to - from) / capture.Instant(n)
	for i := range n {
		m := mean + noise*math.Sin(float64(i)/3)
		at := from + capture.Instant(i)*step
		out = append(out, capture.Bucket{From: at, To: at + step, N: 25, Min: m - noise/2, Max: m + noise/2, Mean: m, Last: m})
	}
	return out
}

func volts(ch capture.ChannelID, v, res float64, at capture.Instant) *live.Last {
	return &live.Last{At: at, Reading: capture.Reading{Channel: ch, Quantity: capture.DCVoltage, Value: v, Resolution: res, Range: 10, Measured: at, Ordinal: 1}}
}

func railView(r capture.Rail, ch capture.ChannelID, v, res, u float64, now capture.Instant) live.RailView {
	outcome := capture.Pass
	if !r.Bounds.Contains(v) {
		outcome = capture.Fail
	}
	return live.RailView{
		Rail: r, Live: true, Volts: volts(ch, v, res, now.Add(-200*time.Millisecond)),
		Placement: capture.Placement{Channel: ch, Rail: r.Name, Point: r.Point, Return: "0 V", Hold: capture.Clipped},
		Trace:     wave(v, res/2, now.Add(-10*time.Minute), now, 120),
		Verdicts:  []capture.Verdict{{Rule: "band " + r.Name, Kind: "band", Rail: r.Name, Outcome: outcome, Say: "Mean of the last 5 s inside the band", Value: v, Uncertainty: u, Unit: "V", Channel: ch, N: 25}},
	}
}

func channel(id capture.ChannelID, q capture.Quantity, job string, last *live.Last, now capture.Instant) live.ChannelView {
	return live.ChannelView{Info: capture.ChannelInfo{ID: id, Quantity: q, Every: 200 * time.Millisecond, Aperture: 20 * time.Millisecond}, Job: job, Last: last, LastGood: now, Selected: true,
		Outcomes: map[string]uint64{"good": 39120, "timeout": 3}, Exchange: .018}
}

// night is the bench in the soak of job AB-0147, all well.
func night() live.Snapshot {
	now := start.Add(130*time.Minute + 8*time.Second)
	job := live.JobView{
		Sheet: capture.Sheet{Job: "AB-0147", Set: "Alderbrook 88 stage piano", Symptom: "Dead keys and hiss on power-up", Indication: "DSP fault", Bench: "east",
			Rails: []capture.Rail{rail("+5 V logic", 5, .02, "TP5"), rail("+12 V audio", 12, .05, "TP12"), rail("−12 V audio", -12, .05, "TP13"), rail("+3.3 V DSP", 3.3, .03, "TP3")}},
		Stage: capture.Soak, StageSince: start, Soak: &live.SoakView{From: start, Planned: 8 * 3600},
	}
	job.Rails = []live.RailView{
		railView(job.Sheet.Rails[0], "dmm/volts", 5.012, .001, .005, now), railView(job.Sheet.Rails[1], "dmm2/volts", 12.07, .01, .036, now),
		railView(job.Sheet.Rails[2], "dmm3/volts", -12.14, .01, .036, now), railView(job.Sheet.Rails[3], "dmm4/volts", 3.296, .001, .004, now),
	}
	job.Rails[0].Rail.Feeds = []string{"logic board", "+3.3 V DSP"}
	job.Rails[0].Ohms = &live.Last{At: start.Add(-10 * time.Hour), Reading: capture.Reading{Channel: "dmm/ohms", Quantity: capture.Resistance, Value: 25.4, Resolution: .1}}
	at := start.Add(-11 * time.Hour)
	for i, s := range capture.Stages()[:9] {
		span := capture.StageSpan{Stage: s, From: at}
		at = at.Add(time.Duration(20+i*7) * time.Minute)
		span.To = at
		if s == capture.Soak {
			span.From, span.To = start, 0
		}
		job.Stages = append(job.Stages, span)
	}
	note := func(i int, text string, verb capture.Verb) {
		s := job.Stages[i]
		job.Entries = append(job.Entries, capture.Entry{At: s.From.Add(3 * time.Minute), Stage: s.Stage, Act: capture.Act{Verb: verb, Text: text}, Text: text})
	}
	note(1, "+5 V logic to return 0.84 Ω: short.", capture.ActFinding)
	note(2, "PS2 convicted: 99.6 % of the conductance left with its output pin.", capture.ActFinding)
	note(4, "Stand-in sits 4 mm above the board; sleeve on the input wire.", capture.ActNote)
	note(8, "Heating on.", capture.ActNote)
	supply := func(id capture.ChannelID, q capture.Quantity, v, res float64) live.PointView {
		l := volts(id, v, res, now.Add(-500*time.Millisecond))
		l.Reading.Quantity = q
		return live.PointView{Channel: id, Placement: capture.Placement{Channel: id, Point: "into the stand-in", Hold: capture.Clipped}, Last: l}
	}
	job.Points = []live.PointView{supply("supply/volts", capture.DCVoltage, 24.02, .01), supply("supply/amperes", capture.DCCurrent, .152, .001)}
	thermo := supply("thermo/celsius", capture.Temperature, 44.6, .1)
	thermo.Placement.Point = "stand-in, case"
	job.Points = append(job.Points, thermo)
	s := live.Snapshot{Now: now, Bench: "east", Simulated: true, Speed: 1, Jobs: []live.JobView{job}, Version: 7}
	for i, name := range []string{"dmm", "dmm2", "dmm3", "dmm4"} {
		s.Instruments = append(s.Instruments, live.InstrumentView{Up: true, Info: capture.InstrumentInfo{Name: name, Model: "scpi-multimeter", Title: "bench multimeter", Link: "serial:/dev/ttyUSB" + fmt.Sprint(i)}})
		s.Channels = append(s.Channels, channel(capture.ChannelID(name+"/volts"), capture.DCVoltage, "AB-0147", job.Rails[i].Volts, now))
	}
	s.Instruments = append(s.Instruments, live.InstrumentView{Up: true, Info: capture.InstrumentInfo{Name: "supply", Title: "programmable supply", Acts: []string{"output", "limits"}}}, live.InstrumentView{Up: true, Info: capture.InstrumentInfo{Name: "thermo", Title: "thermometer"}})
	for _, p := range job.Points {
		c := channel(p.Channel, p.Last.Reading.Quantity, "AB-0147", p.Last, now)
		c.Info.Setpoint = p.Channel.Instrument() == "supply"
		s.Channels = append(s.Channels, c)
	}
	s.Notifiers = []live.NotifierView{{Name: "webhook", Sent: 2, Failed: 1}}
	return s
}

func collapse() capture.Transition {
	at := start.Add(129 * time.Minute)
	return capture.Transition{At: at, Alarm: capture.AlarmID("collapse +5 V logic", at), Rule: "collapse +5 V logic", Kind: "collapse", Rail: "+5 V logic", Severity: capture.Urgent,
		From: capture.Normal, To: capture.Active, Raised: at, Say: "+5 V logic collapsed: from 5.011 V to 3.087 V", Advice: "Look at the input of the stand-in, then tap its joints.",
		Value: 3.087, Limit: 4.9, Unit: "V", Channel: "dmm/volts", Evidence: []capture.Instant{at.Add(-200 * time.Millisecond), at}}
}

// trouble is the same night a moment after the collapse.
func trouble() live.Snapshot {
	s := night()
	j := &s.Jobs[0]
	j.Rails[0] = railView(j.Rails[0].Rail, "dmm/volts", 3.412, .001, .005, s.Now)
	j.Rails[3] = railView(j.Rails[3].Rail, "dmm4/volts", 2.716, .001, .004, s.Now)
	j.Rails[2].Volts.At = s.Now.Add(-38 * time.Second)
	follows := collapse()
	follows.Alarm, follows.Rule, follows.Kind, follows.Rail = "band +3.3 V DSP@1", "band +3.3 V DSP", "band", "+3.3 V DSP"
	follows.Severity, follows.Say, follows.Muted, follows.Advice = capture.Warning, "+3.3 V DSP low: 2.716 V", "+5 V logic feeds it", ""
	silent := collapse()
	silent.Alarm, silent.Rule, silent.Kind, silent.Rail, silent.To = "silent −12 V audio@1", "silent −12 V audio", "silent", "−12 V audio", capture.LatchedHeard
	silent.Severity, silent.Say, silent.Advice, silent.Unit, silent.Evidence = capture.Warning, "No reading on −12 V audio: meter silent for 5 s", "Look whether the meter has switched itself off.", "", nil
	j.Alarms = []capture.Transition{collapse(), follows, silent}
	past := collapse()
	past.Raised, past.At, past.To, past.Alarm = start.Add(time.Minute), start.Add(2*time.Minute), capture.Normal, "old@1"
	j.Past = []capture.Transition{past}
	return s
}

// waits is the same night with a handheld that nobody knows, another that soon
// switches itself off, and a supply with two outputs.
func waits() live.Snapshot {
	s := night()
	j := &s.Jobs[0]
	s.Instruments = append(slices.Clone(s.Instruments),
		live.InstrumentView{Up: true, Doubtful: true, Problem: "nobody can say which meter answers", Info: capture.InstrumentInfo{Name: "handheld", Title: "handheld multimeter"}},
		live.InstrumentView{Up: true, Info: capture.InstrumentInfo{Name: "psu", Title: "bench supply with two outputs", Acts: []string{"output", "limits"}, Outputs: []string{"1", "2"}}})
	c := channel("handheld/volts", capture.DCVoltage, "AB-0147", nil, s.Now)
	ohms := channel("dmm/ohms", capture.Resistance, "AB-0147", nil, s.Now)
	ohms.Info.Group, ohms.Selected = "input", false
	s.Channels = append(slices.Clone(s.Channels), c, ohms)
	j.Rails[1].Verdicts = append(slices.Clone(j.Rails[1].Verdicts), capture.Verdict{Rule: "auto-off +12 V audio", Kind: "auto-off", Rail: "+12 V audio", Say: "dmm2 may switch itself off in about 3 min: press a key on it", Value: 180, Unit: "s", Channel: "dmm2/volts"})
	return s
}

// waitsAlarm is that bench with an alarm that nobody has heard.
func waitsAlarm() live.Snapshot {
	s := waits()
	s.Jobs[0].Alarms = trouble().Jobs[0].Alarms
	return s
}

// eight is a board with eight rails, one of them with a name of forty letters.
func eight() live.Snapshot {
	s := night()
	j := &s.Jobs[0]
	base := j.Rails
	for i := range 4 {
		rv := base[i]
		rv.Rail.Name = []string{"+1.2 V core of the signal processor card", "+1.8 V memory", "+48 V phantom", "−5 V"}[i]
		j.Rails = append(j.Rails, rv)
	}
	j.Rails[6].Live = false
	j.Rails[6].Volts = nil
	j.Rails[7].Live = false
	j.Rails[7].Volts.At = s.Now.Add(-time.Hour)
	return s
}
