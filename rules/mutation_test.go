package rules

import (
	"path/filepath"
	"testing"
	"time"

	"steadyrail/capture"
)

// TestMutation changes a threshold of each kind and holds that some scenario
// sees it: a scenario that cannot fail holds nothing.
func TestMutation(t *testing.T) {
	mutations := map[string]func(*capture.Rule){
		"collapse limit":    func(r *capture.Rule) { only(r, "collapse", func() { r.Limit = 2.5 }) },
		"collapse no latch": func(r *capture.Rule) { only(r, "collapse", func() { r.Latch = false }) },
		"band on-delay":     func(r *capture.Rule) { only(r, "band", func() { r.OnDelay = 500 * time.Millisecond }) },
		"band off-delay":    func(r *capture.Rule) { only(r, "band", func() { r.OffDelay = 0 }) },
		"band deadband":     func(r *capture.Rule) { only(r, "band", func() { r.Deadband = 0 }) },
		"missing limit":     func(r *capture.Rule) { only(r, "missing", func() { r.Limit = 1 }) },
		"missing on-delay":  func(r *capture.Rule) { only(r, "missing", func() { r.OnDelay = 0 }) },
		"short limit":       func(r *capture.Rule) { only(r, "short", func() { r.Limit = 0.5 }) },
		"silent intervals":  func(r *capture.Rule) { only(r, "silent", func() { r.Count = 30 }) },
		"auto-off gone":     func(r *capture.Rule) { only(r, "auto-off", func() { r.Rail = "" }) },
		"trip output":       func(r *capture.Rule) { only(r, "trip", func() { r.Against = "other" }) },
		"trip taken off":    func(r *capture.Rule) { only(r, "collapse", func() { r.Trip = "" }) },
		"limiting on-delay": func(r *capture.Rule) { only(r, "limiting", func() { r.OnDelay = 5 * time.Second }) },
	}
	for name, change := range mutations {
		var broken []string
		for _, path := range scenarios(t) {
			s := readScenario(t, path)
			out := play(s.log(func(rules []capture.Rule) {
				for i := range rules {
					change(&rules[i])
				}
			}), s.end)
			if len(s.check(out)) > 0 {
				broken = append(broken, filepath.Base(path))
			}
		}
		if len(broken) == 0 {
			t.Errorf("%s: no scenario notices", name)
		}
	}
}

func only(r *capture.Rule, kind string, change func()) {
	if r.Kind == kind {
		change()
	}
}
