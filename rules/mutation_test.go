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
		"collapse limit":        func(r *capture.Rule) { only(r, "collapse", func() { r.Limit = 2.5 }) },
		"collapse no latch":     func(r *capture.Rule) { only(r, "collapse", func() { r.Latch = false }) },
		"band on-delay":         func(r *capture.Rule) { only(r, "band", func() { r.OnDelay = 500 * time.Millisecond }) },
		"band off-delay":        func(r *capture.Rule) { only(r, "band", func() { r.OffDelay = 0 }) },
		"band deadband":         func(r *capture.Rule) { only(r, "band", func() { r.Deadband = 0 }) },
		"missing limit":         func(r *capture.Rule) { only(r, "missing", func() { r.Limit = 1 }) },
		"missing on-delay":      func(r *capture.Rule) { only(r, "missing", func() { r.OnDelay = 0 }) },
		"short limit":           func(r *capture.Rule) { only(r, "short", func() { r.Limit = 0.5 }) },
		"silent intervals":      func(r *capture.Rule) { only(r, "silent", func() { r.Count = 30 }) },
		"auto-off gone":         func(r *capture.Rule) { only(r, "auto-off", func() { r.Rail = "" }) },
		"band own bounds":       func(r *capture.Rule) { only(r, "band", func() { r.Bounds.High *= 2 }) },
		"restarts count":        func(r *capture.Rule) { only(r, "restarts", func() { r.Count = 4 }) },
		"restarts window":       func(r *capture.Rule) { only(r, "restarts", func() { r.Window = 7 * time.Second }) },
		"restarts limit":        func(r *capture.Rule) { only(r, "restarts", func() { r.Limit = 0.5 }) },
		"drift limit":           func(r *capture.Rule) { only(r, "drift", func() { r.Limit = 0.1 }) },
		"drift block":           func(r *capture.Rule) { only(r, "drift", func() { r.Window = 2 * time.Minute }) },
		"settled limit":         func(r *capture.Rule) { only(r, "settled", func() { r.Limit = 0.005 }) },
		"settled deadline":      func(r *capture.Rule) { only(r, "settled", func() { r.Window = time.Hour }) },
		"unrest limit":          func(r *capture.Rule) { only(r, "unrest", func() { r.Limit = 0.005 }) },
		"unrest window":         func(r *capture.Rule) { only(r, "unrest", func() { r.Window = 6 * time.Second }) },
		"unrest on-delay":       func(r *capture.Rule) { only(r, "unrest", func() { r.OnDelay = 0 }) },
		"hot limit":             func(r *capture.Rule) { only(r, "hot", func() { r.Limit = 80 }) },
		"hot deadband":          func(r *capture.Rule) { only(r, "hot", func() { r.Deadband = 1 }) },
		"hot on-delay":          func(r *capture.Rule) { only(r, "hot", func() { r.OnDelay = 0 }) },
		"hot against nothing":   func(r *capture.Rule) { only(r, "hot", func() { r.Against = "" }) },
		"overcurrent limit":     func(r *capture.Rule) { only(r, "overcurrent", func() { r.Limit = 2.4 }) },
		"overcurrent deadband":  func(r *capture.Rule) { only(r, "overcurrent", func() { r.Deadband = 0.001 }) },
		"overcurrent on-delay":  func(r *capture.Rule) { only(r, "overcurrent", func() { r.OnDelay = 0 }) },
		"frozen repeats":        func(r *capture.Rule) { only(r, "frozen", func() { r.Count = 100 }) },
		"frozen window":         func(r *capture.Rule) { only(r, "frozen", func() { r.Window = 20 * time.Second }) },
		"order turned round":    func(r *capture.Rule) { only(r, "order", func() { r.Rail, r.Against = r.Against, r.Rail }) },
		"one channel not named": func(r *capture.Rule) { r.Of = "" },
		"limiting on-delay":     func(r *capture.Rule) { only(r, "limiting", func() { r.OnDelay = 5 * time.Second }) },
		"trip output":           func(r *capture.Rule) { only(r, "trip", func() { r.Against = "other" }) },
		"injection output":      func(r *capture.Rule) { only(r, "injection", func() { r.Against = "other" }) },
		"found off output":      func(r *capture.Rule) { only(r, "found off", func() { r.Against = "other" }) },
		"trip taken off":        func(r *capture.Rule) { only(r, "collapse", func() { r.Trip = "" }) },
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
