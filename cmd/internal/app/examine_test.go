package app_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/drivers"
	"steadyrail/rules/notify"
)

// The page looks with the command's eyes, at this daemon's own bench; what was found
// serves who asks next, and half a look nobody.
func TestHealth(t *testing.T) {
	t.Parallel()
	r := newBench(t, 5)
	r.start()
	ended, end := context.WithCancel(t.Context())
	end()
	_, err := r.Health(ended)
	refused(t, "nobody waits", err, dashboards.Unavailable, "look at the bench")
	h, err := r.Health(t.Context())
	r.must(err)
	find := func(looked string) web.HealthFinding {
		i := slices.IndexFunc(h.Findings, func(f web.HealthFinding) bool { return f.LookedAt == looked })
		if i < 0 {
			t.Fatalf("%s was not looked at: %+v", looked, h.Findings)
		}
		return h.Findings[i]
	}
	for looked, want := range map[string]string{"configuration": "made by the program", "daemon": "is ready", "ports": "simulated", "workspace": "", "record": "there are no jobs"} {
		if f := find(looked); !strings.Contains(f.Found, want) || f.ToDo {
			t.Errorf("%s: %+v", looked, f)
		}
	}
	if f := find("version"); strings.Contains(f.Found, "daemon") {
		t.Errorf("it compares the program with itself: %s", f.Found)
	}
	again, err := r.Health(t.Context())
	r.must(err)
	if again.At != h.At {
		t.Errorf("looked again at once: %v after %v", again.At, h.At)
	}
}

// What a reload would come to is told before it is done, and nothing is changed by
// the telling.
func TestConfigurationTold(t *testing.T) {
	t.Parallel()
	r := newBench(t, 5)
	f := &file{}
	r.reread = f.read
	f.cfg = r.cfg
	r.start()
	r.open(jobID)
	before := r.ruleNames()
	if c := r.Configuration(); !c.CanReload || c.Bench != "east" || c.Loaded == 0 || len(c.Changes)+len(c.Waits)+len(c.Problems) != 0 || c.Refused != "" {
		t.Errorf("the same file: %+v", c)
	}
	f.cfg.Rules = []capture.Rule{far}
	f.cfg.Voice = []string{"speak"}
	if c := r.Configuration(); !slices.Equal(c.Changes, []string{"job " + jobID + " is judged by other rules (new: unrest +5 V logic)"}) || !slices.Equal(c.Waits, []string{"voice"}) {
		t.Errorf("%+v", c)
	}
	f.cfg.Notify = []notify.Config{{Kind: "pigeon"}}
	if c := r.Configuration(); !strings.Contains(c.Refused, "pigeon") || strings.Contains(c.Refused, "reload") {
		t.Errorf("a notifier of no kind: %+v", c)
	}
	f.cfg.Notify = nil
	f.cfg.Instruments = append(slices.Clone(f.cfg.Instruments), drivers.Config{Name: "hand"})
	f.cfg.Formulas = []capture.Formula{{Name: "power", Text: "hand/volts * 2", Unit: "V"}}
	if c := r.Configuration(); !strings.Contains(c.Refused, "formula power needs hand") || !strings.Contains(c.Refused, "start it again") {
		t.Errorf("an instrument that is not here: %+v", c)
	}
	f.problems = []configs.Problem{{File: "bench.yaml", Line: 8, Key: "listen", What: "no port", Hint: "write one"}}
	if c := r.Configuration(); len(c.Problems) != 1 || c.Problems[0].String() != f.problems[0].String() || len(c.Changes) != 0 {
		t.Errorf("a wrong file: %+v", c)
	}
	if after := r.ruleNames(); !slices.Equal(before, after) {
		t.Errorf("telling changed the rules: %q, %q", before, after)
	}
}
