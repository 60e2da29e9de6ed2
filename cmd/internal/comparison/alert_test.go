package comparison

import (
	"path/filepath"
	"testing"

	"steadyrail/capture"
)

// The shipped alert rules, a real Prometheus and a real Alertmanager carry a
// collapse of the +5 V to a webhook, with the labels that say where and what;
// when the rail is back the alert is resolved, while the daemon's own alarm
// stays latched until somebody has dealt with it.
func TestAlertThroughAlertmanager(t *testing.T) {
	if testing.Short() {
		t.Skip("takes ten seconds: left out by -short")
	}
	pipelinePrograms(t)
	h := newHook(t)
	r := newRig(t, "+5 2% logic", h.URL+"/own")
	rules, err := filepath.Abs(filepath.FromSlash("../../../dashboards/prometheus/alerts.yaml"))
	r.must(err)
	p := startPipeline(t, r.app.Address(), rules, h.URL+"/pipeline")
	if n := len(h.all()); n != 0 {
		t.Fatalf("before anything happened: %d notices: %+v", n, h.all())
	}

	// The joint at the stand-in's input opens: the +5 V is away until the
	// stand-in's restart timer has run, and the other rails stand.
	r.must(r.bench.Fault("input joint", "3s"))
	own := h.await(t, "the daemon's own notice", func(n notice) bool { return n.from == "own" && n.state == "active" && n.labels["kind"] == "collapse" })
	told := h.await(t, "the alert", func(n notice) bool { return n.isCollapse() && n.state == "firing" })
	want := map[string]string{
		"alertname": "RailAlarm", "bench": "east", "job": jobID, "rail": five, "rule": "collapse " + five, "severity": "urgent",
	}
	for name, value := range want {
		if told.labels[name] != value {
			t.Errorf("label %s of the alert is %q, want %q", name, told.labels[name], value)
		}
	}
	if len(told.labels) != len(want) {
		t.Errorf("labels of the alert: %v, want %v", told.labels, want)
	}
	for _, name := range []string{"bench", "job", "rail", "rule", "severity"} {
		if own.labels[name] != want[name] {
			t.Errorf("%s of the daemon's own notice is %q, want %q", name, own.labels[name], want[name])
		}
	}
	t.Logf("the alert came %.2f s after the daemon's own notice", told.arrived.Sub(own.arrived).Seconds())

	h.await(t, "the alert's end", func(n notice) bool { return n.isCollapse() && n.state == "resolved" })
	if got := r.alarm(); got != capture.Latched {
		t.Errorf("the rail is back and nobody has dealt with it: the daemon's alarm is %s, want latched", got)
	}
	r.act(capture.Act{Verb: capture.ActHeard, Subject: "collapse " + five})
	r.act(capture.Act{Verb: capture.ActReset, Subject: "collapse " + five})
	if got := r.alarm(); got != capture.Normal {
		t.Errorf("heard and reset: the alarm is %s, want normal", got)
	}
	p.await(t, "the alarm's series ends", func() bool { return p.query(`steadyrail_alarm_active{rule="collapse +5 V logic"}`) == 0 })
	p.await(t, "no alert fires for no alarm", func() bool { return p.query(`ALERTS{alertname="RailAlarm"}`) == 0 })
}

// isCollapse reports whether the pipeline speaks of the collapse of +5 V.
func (n notice) isCollapse() bool {
	return n.from == "pipeline" && n.labels["alertname"] == "RailAlarm" && n.labels["rule"] == "collapse "+five
}
