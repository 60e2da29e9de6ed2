package app_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/drivers"
	"steadyrail/drivers/sim"
	"steadyrail/rules/notify"
)

// file is the configuration that a reload reads.
type file struct {
	cfg      configs.Config
	problems []configs.Problem
}

func (f *file) read() (*configs.Config, []configs.Problem) {
	if len(f.problems) > 0 {
		return nil, f.problems
	}
	c := f.cfg
	return &c, nil
}

// far is a rule that holds nothing against a bench that is well.
var far = capture.Rule{Name: "unrest +5 V logic", Kind: "unrest", Rail: five, Severity: capture.Warning, Limit: 0.5}

// A reload puts rules, notifiers and meters without a port in force in jobs that are
// open and in those to come, and names what waits for a restart. The record has it:
// judged again it comes to the same.
func TestReload(t *testing.T) {
	t.Parallel()
	url, got := receiver(t)
	r := newBench(t, 5)
	f := &file{}
	r.reread = f.read
	f.cfg = r.cfg
	r.start()
	r.open(jobID)
	say := func() string {
		t.Helper()
		res, err := r.Reload(t.Context())
		r.must(err)
		return res.Say
	}
	if s := say(); s != "The configuration was read again: nothing that is in force changed." {
		t.Errorf("the same file: %q", s)
	}
	f.cfg.Rules = []capture.Rule{far}
	f.cfg.Notify = []notify.Config{{Kind: "webhook", Name: "shop", URL: url}}
	f.cfg.Handhelds = []configs.Handheld{{Name: "pocket"}}
	f.cfg.Bench = "west"
	f.cfg.Instruments = slices.Clone(f.cfg.Instruments)
	f.cfg.Instruments[0].Every = time.Second
	f.cfg.Instruments = append(f.cfg.Instruments, drivers.Config{Name: "hand"})
	s := say()
	for _, want := range []string{"job " + jobID + " is judged by other rules (new: unrest +5 V logic)", "others are told of alarms", "the meters without a port are others",
		"This waits for a restart: bench, instrument " + sim.DMM + ", instrument hand (new)."} {
		if !strings.Contains(s, want) {
			t.Errorf("%q does not say %q", s, want)
		}
	}
	r.until("the new rule is in force", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		return slices.ContainsFunc(j.Rails[0].Verdicts, func(v capture.Verdict) bool { return v.Rule == far.Name })
	})
	if _, err := r.TestNotifier(t.Context(), "shop"); err != nil {
		t.Error(err)
	}
	if m := <-got; m.Kind != "test" || m.Bench != "east" {
		t.Errorf("told %+v", m)
	}
	r.refusedReloads(f)
	changed := far
	changed.Limit = 0.4
	f.cfg.Rules = []capture.Rule{changed}
	if s := say(); !strings.Contains(s, "(changed: unrest +5 V logic)") {
		t.Errorf("%q", s)
	}
	f.cfg.Rules, f.cfg.Notify = nil, nil
	if s := say(); !strings.Contains(s, "(gone: unrest +5 V logic)") {
		t.Errorf("%q", s)
	}
	r.stop()
	sets, notes := 0, 0
	for _, rec := range r.read(jobID).records {
		switch it := rec.Item.(type) {
		case capture.RuleSet:
			sets++
		case capture.Act:
			if it.By == capture.ByReload {
				notes++
			}
		}
	}
	if sets != 4 || notes != 3 { // that of the opening, and one for each change
		t.Errorf("%d times rules in the record, %d notes about them", sets, notes)
	}
}

// refusedReloads change nothing: what was in force is in force.
func (r *rig) refusedReloads(f *file) {
	r.t.Helper()
	good := f.cfg
	before := r.ruleNames()
	f.problems = []configs.Problem{{File: "bench.yaml", Line: 8, Key: "listen", What: "no port"}, {File: "bench.yaml", Line: 9, What: "unknown key"}}
	_, err := r.Reload(r.t.Context())
	refused(r.t, "a wrong file", err, dashboards.Invalid, "nothing was changed", "bench.yaml:8: listen: no port", "bench.yaml:9")
	f.problems = nil
	f.cfg.Rules = []capture.Rule{{Name: "nonsense", Kind: "no such kind", Rail: five}}
	_, err = r.Reload(r.t.Context())
	refused(r.t, "a rule that cannot be", err, dashboards.Invalid, "nothing was changed", jobID)
	f.cfg = good
	f.cfg.Formulas = []capture.Formula{{Name: "power", Text: "hand/volts * 2", Unit: "V"}}
	_, err = r.Reload(r.t.Context())
	refused(r.t, "a formula over an instrument that is not here", err, dashboards.Conflict, "formula power needs hand", "before a restart")
	f.cfg = good
	f.cfg.Notify = []notify.Config{{Kind: "pigeon"}}
	_, err = r.Reload(r.t.Context())
	refused(r.t, "a notifier of no kind", err, dashboards.Invalid, "pigeon")
	f.cfg = good
	if after := r.ruleNames(); !slices.Equal(before, after) {
		r.t.Errorf("rules before %q, after %q", before, after)
	}
	if _, err := r.TestNotifier(r.t.Context(), "shop"); err != nil {
		r.t.Errorf("whoever was told is told: %v", err)
	}
}

func (r *rig) ruleNames() (out []string) {
	j, _ := r.Snapshot().Job(jobID)
	for _, rail := range j.Rails {
		for _, v := range rail.Verdicts {
			out = append(out, v.Rule)
		}
	}
	return out
}

// A daemon without a file says so.
func TestReloadWithoutAFile(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	_, err := r.Reload(t.Context())
	refused(t, "no file", err, dashboards.Unavailable, "without a configuration file")
}
