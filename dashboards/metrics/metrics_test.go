package metrics_test

import (
	"math"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/metrics"
)

const now = capture.Instant(1_795_567_868_000_000)

func last(ch capture.ChannelID, q capture.Quantity, v float64, age time.Duration) *live.Last {
	return &live.Last{At: now.Add(-age), Reading: capture.Reading{Channel: ch, Quantity: q, Value: v, Resolution: .001}}
}

func bench() live.Snapshot {
	logic := capture.Rail{Name: "+5 V logic", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}}
	audio := capture.Rail{Name: "−12 V audio", Nominal: -12, Target: -12, Bounds: capture.Bounds{Low: math.Inf(-1), High: -11.4}}
	place := func(ch capture.ChannelID) capture.Placement {
		return capture.Placement{Channel: ch, Hold: capture.Clipped}
	}
	j := live.JobView{
		Sheet: capture.Sheet{Job: "AB-0147"}, Stage: capture.Soak,
		Rails: []live.RailView{
			{Rail: logic, Live: true, Placement: place("dmm/volts"), Volts: last("dmm/volts", capture.DCVoltage, 5.012, 200*time.Millisecond),
				Verdicts: []capture.Verdict{{Rule: "band +5 V logic", Kind: "band", Rail: "+5 V logic", Outcome: capture.Pass, Uncertainty: .005, Unit: "V"}},
				Trace:    []capture.Bucket{{From: now.Add(-10 * time.Second), To: now, N: 50, Min: 5, Max: 5.02, Mean: 5.01}}},
			{Rail: audio, Live: true, Placement: place("dmm2/volts"), Volts: last("dmm2/volts", capture.DCVoltage, -12.14, 38*time.Second)},
		},
		Points: []live.PointView{{Channel: "thermo/celsius", Placement: capture.Placement{Channel: "thermo/celsius", Point: "stand-in, case"}, Last: last("thermo/celsius", capture.Temperature, 44.6, time.Second)}},
		Alarms: []capture.Transition{{Rule: "collapse +5 V logic", Rail: "+5 V logic", Severity: capture.Urgent, To: capture.Active}, {Rule: "silent −12 V audio", Rail: "−12 V audio", Severity: capture.Warning, To: capture.LatchedHeard}},
	}
	channel := func(id capture.ChannelID, q capture.Quantity) live.ChannelView {
		return live.ChannelView{Info: capture.ChannelInfo{ID: id, Quantity: q, Every: 200 * time.Millisecond, Aperture: 20 * time.Millisecond}, Job: "AB-0147", Selected: true, LastGood: now, Outcomes: map[string]uint64{"good": 41, "timeout": 2}, Exchange: .018}
	}
	return live.Snapshot{Now: now, Bench: "east", Speed: 1, Jobs: []live.JobView{j},
		Channels:    []live.ChannelView{channel("dmm/volts", capture.DCVoltage), channel("dmm2/volts", capture.DCVoltage), channel("thermo/celsius", capture.Temperature)},
		Instruments: []live.InstrumentView{{Info: capture.InstrumentInfo{Name: "dmm"}, Up: true, Resyncs: 1}, {Info: capture.InstrumentInfo{Name: "dmm2"}}},
		Notifiers:   []live.NotifierView{{Name: "webhook", Queued: 1, Sent: 2, Failed: 3, Tried: true, Problem: "refused", Failing: 3 * time.Minute}, {Name: "email"}},
	}
}

func full(snap func() live.Snapshot) *metrics.Metrics {
	return metrics.New(metrics.Options{Snapshot: snap, Version: "test", Revision: "r", Store: func() []metrics.StoreStat {
		return []metrics.StoreStat{{Job: "AB-0147", Bytes: 4096, Queued: 3, Dropped: 1, Errors: 2}}
	}, Space: func() metrics.SpaceStat { return metrics.SpaceStat{Free: 12_000_000_000, Rate: 230} }})
}

func page(t *testing.T, m *metrics.Metrics) string {
	t.Helper()
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	if w.Code != 200 {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	return w.Body.String()
}

func TestPageSaysWhatIsPresentAndNothingElse(t *testing.T) {
	m := full(bench)
	m.Transition("AB-0147", capture.Transition{Rule: "collapse +5 V logic", Rail: "+5 V logic", Severity: capture.Urgent, To: capture.Active})
	m.Transition("AB-0147", capture.Transition{Rule: "collapse +5 V logic", Rail: "+5 V logic", Severity: capture.Urgent, From: capture.Active, To: capture.Heard})
	m.Detected(3 * time.Millisecond)
	got := page(t, m)
	for _, want := range []string{
		`steadyrail_rail_volts{bench="east",channel="volts",instrument="dmm",job="AB-0147",rail="+5 V logic"} 5.012`,
		`steadyrail_rail_volts_uncertainty{bench="east",channel="volts",instrument="dmm",job="AB-0147",rail="+5 V logic"} 0.005`,
		`steadyrail_observed_ratio{bench="east",channel="volts",instrument="dmm",job="AB-0147",rail="+5 V logic"} 0.1`,
		`steadyrail_point_celsius{bench="east",channel="celsius",instrument="thermo",job="AB-0147",point="stand-in, case",rail=""} 44.6`,
		`steadyrail_rail_target_volts{bench="east",job="AB-0147",rail="−12 V audio"} -12`,
		`steadyrail_rule_verdict{bench="east",job="AB-0147",rail="+5 V logic",rule="band +5 V logic",verdict="pass"} 1`,
		`steadyrail_rule_verdict{bench="east",job="AB-0147",rail="+5 V logic",rule="band +5 V logic",verdict="fail"} 0`,
		`steadyrail_alarm_active{bench="east",job="AB-0147",rail="+5 V logic",rule="collapse +5 V logic",severity="urgent"} 1`,
		`steadyrail_alarm_active{bench="east",job="AB-0147",rail="−12 V audio",rule="silent −12 V audio",severity="warning"} 0`,
		`steadyrail_alarms_total{bench="east",job="AB-0147",rail="+5 V logic",rule="collapse +5 V logic",severity="urgent"} 1`,
		`steadyrail_readings_total{channel="volts",instrument="dmm",outcome="timeout"} 2`,
		`steadyrail_instrument_up{instrument="dmm2"} 0`,
		`steadyrail_resyncs_total{instrument="dmm"} 1`,
		`steadyrail_store_write_errors_total{job="AB-0147"} 2`,
		`steadyrail_workspace_free_bytes 1.2e+10`,
		`steadyrail_workspace_growth_bytes_per_second 230`,
		`steadyrail_notices_total{notifier="webhook",outcome="failed"} 3`,
		`steadyrail_notifier_up{notifier="webhook"} 0`,
		`steadyrail_notifier_failing_seconds{notifier="webhook"} 180`,
		`steadyrail_detection_delay_seconds_count 1`,
		`steadyrail_job_stage_info{bench="east",job="AB-0147",stage="soak"} 1`,
	} {
		if !strings.Contains(got, want+"\n") {
			t.Errorf("missing: %s", want)
		}
	}
	// Silent for 38 s, and open below: absent, never a zero.
	for _, gone := range []string{`steadyrail_notifier_up{notifier="email"}`, `steadyrail_rail_volts{bench="east",channel="volts",instrument="dmm2"`, `steadyrail_rail_low_volts{bench="east",job="AB-0147",rail="−12 V audio"`} {
		if strings.Contains(got, gone) {
			t.Errorf("should be absent: %s", gone)
		}
	}
}

func TestReadingsThatMayNotBeJudgedAreAbsent(t *testing.T) {
	for name, spoil := range map[string]func(*live.RailView){
		"over range":        func(rv *live.RailView) { rv.Volts.Reading.Flags = capture.OverRange },
		"display on hold":   func(rv *live.RailView) { rv.Volts.Reading.Flags = capture.Held },
		"probe moved away":  func(rv *live.RailView) { rv.Live = false },
		"never read":        func(rv *live.RailView) { rv.Volts = nil },
		"older than silent": func(rv *live.RailView) { rv.Volts.At = now.Add(-3 * time.Second) },
	} {
		t.Run(name, func(t *testing.T) {
			s := bench()
			spoil(&s.Jobs[0].Rails[0])
			if got := page(t, full(func() live.Snapshot { return s })); strings.Contains(got, "steadyrail_rail_volts{") {
				t.Error("the rail still has a sample")
			}
		})
	}
}

func TestSeriesOfAJobEndWithIt(t *testing.T) {
	s := bench()
	m := full(func() live.Snapshot { return s })
	m.Transition("AB-0147", capture.Transition{Rule: "r", Rail: "x", To: capture.Active})
	if !strings.Contains(page(t, m), "steadyrail_alarms_total{") {
		t.Fatal("the alarm was not counted")
	}
	s.Jobs = nil
	got := page(t, m)
	for _, name := range []string{"steadyrail_rail_volts{", "steadyrail_rail_target_volts{", "steadyrail_alarms_total{", "steadyrail_rule_verdict{"} {
		if strings.Contains(got, name) {
			t.Errorf("%s outlives its job", name)
		}
	}
}

// A rate that nobody knows is no rate of zero.
func TestUnknownRoomHasNoSeries(t *testing.T) {
	m := metrics.New(metrics.Options{Snapshot: bench, Space: func() metrics.SpaceStat { return metrics.SpaceStat{Free: -1, Rate: -1} }})
	if strings.Contains(page(t, m), "steadyrail_workspace_") {
		t.Error("the page tells of room that nobody knows")
	}
}

// Values read by eye come under a channel for each job: their series would
// outlive it.
func TestHandEntryHasNoSeries(t *testing.T) {
	s := bench()
	s.Channels = append(s.Channels, live.ChannelView{Info: capture.ChannelInfo{ID: "by eye/volts AB-0147"}, LastGood: now, Outcomes: map[string]uint64{"good": 1}})
	if got := page(t, full(func() live.Snapshot { return s })); strings.Contains(got, "by eye") {
		t.Error("the page has a series of what was read by eye")
	}
}

func TestTwoBoardsWithTheSameRailStayApart(t *testing.T) {
	s := bench()
	second := s.Jobs[0]
	second.Sheet.Job = "AB-0148"
	s.Jobs = append(s.Jobs, second)
	if n := strings.Count(page(t, full(func() live.Snapshot { return s })), "steadyrail_rail_volts{"); n != 2 {
		t.Errorf("%d series, want 2", n)
	}
}

func TestLint(t *testing.T) {
	problems, err := testutil.GatherAndLint(full(bench).Gatherer())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// names lists every name that the daemon can have a sample of.
func names(t *testing.T) map[string]bool {
	t.Helper()
	m := full(bench)
	out := map[string]bool{}
	ch := make(chan *prometheus.Desc, 1000)
	m.Gatherer().(*prometheus.Registry).Describe(ch)
	close(ch)
	quoted := regexp.MustCompile(`fqName: "([^"]+)"`)
	for d := range ch {
		name := quoted.FindStringSubmatch(d.String())[1]
		for _, suffix := range []string{"", "_bucket", "_count", "_sum"} {
			out[name+suffix] = true
		}
	}
	return out
}

func TestRulesAndDashboardsUseOnlyMetricsThatExist(t *testing.T) {
	known := names(t)
	used := regexp.MustCompile(`steadyrail_[a-z_]+`)
	for _, file := range []string{"../prometheus/alerts.yaml", "../grafana/bench.json"} {
		text, err := os.ReadFile(filepath.FromSlash(file))
		if err != nil {
			t.Fatal(err)
		}
		found := used.FindAllString(string(text), -1)
		if len(found) == 0 {
			t.Errorf("%s uses no metric at all", file)
		}
		for _, name := range found {
			if !known[name] {
				t.Errorf("%s uses %s, which does not exist", file, name)
			}
		}
	}
}

// The names of the plan: users rely on them.
func TestPromisedNames(t *testing.T) {
	known := names(t)
	for _, n := range []string{"rail_volts", "rail_amperes", "rail_ohms", "point_celsius", "rail_target_volts", "rail_volts_uncertainty", "observed_ratio", "rule_verdict", "alarm_active", "alarms_total",
		"readings_total", "last_reading_timestamp_seconds", "exchange_duration_seconds", "instrument_up", "resyncs_total", "store_bytes", "store_queue_readings", "store_write_errors_total", "workspace_free_bytes", "workspace_growth_bytes_per_second", "detection_delay_seconds", "trip_delay_seconds", "build_info", "clock_synchronised"} {
		if !known["steadyrail_"+n] {
			t.Errorf("steadyrail_%s does not exist", n)
		}
	}
}

func TestScrapesRaceWithEvents(t *testing.T) {
	m := full(bench)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 200 {
			m.Transition("AB-0147", capture.Transition{Rule: "r", To: capture.Active})
			m.Detected(time.Millisecond)
		}
	}()
	for range 5 {
		page(t, m)
	}
	<-done
}
