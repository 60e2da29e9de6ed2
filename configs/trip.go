package configs

import (
	"fmt"
	"slices"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/rules"
)

// usual fills what was not written of a rule that stands in the place of one that
// follows from its rail: it is that rule but for what was written.
func usual(c *capture.Rule, lines map[string]int) {
	sheet := capture.Sheet{Rails: []capture.Rail{{Name: c.Rail, ShortBelow: capture.DefaultShortBelow}}}
	for _, r := range rules.Implied(sheet, capture.Roster{}) {
		if r.Name != c.Name || r.Kind != c.Kind {
			continue
		}
		for key, take := range map[string]func(){
			"severity":  func() { c.Severity = r.Severity },
			"latch":     func() { c.Latch = r.Latch },
			"on_delay":  func() { c.OnDelay = r.OnDelay },
			"off_delay": func() { c.OffDelay = r.OffDelay },
		} {
			if lines[key] == 0 {
				take()
			}
		}
	}
}

// checkTrip finds why a rule cannot switch off what it names: the instrument is
// not there, may not be switched or set, or has no protection of its own.
func (r *reader) checkTrip(w writtenRule) {
	act := capture.Act{Subject: w.rule.Trip}
	if w.rule.Trip == "" || len(r.c.Models) == 0 {
		return
	}
	key := w.key + ".trip"
	i := slices.IndexFunc(r.c.Instruments, func(c drivers.Config) bool { return c.Name == act.Instrument() })
	if i < 0 {
		var names []string
		for _, c := range r.c.Instruments {
			names = append(names, c.Name)
		}
		r.add(max(w.lines["trip"], w.line), key, suggestion(act.Instrument(), names), "there is no instrument %q to switch off", cut(act.Instrument()))
		return
	}
	c := r.c.Instruments[i]
	for _, need := range []struct{ act, why string }{
		{"output", "a trip switches its output off"},
		{"limits", "a trip is armed by its own protection, programmed and read back"},
	} {
		if !slices.Contains(c.Acts, need.act) {
			r.add(max(w.lines["trip"], w.line), key, fmt.Sprintf("add %s to acts: of %s", need.act, c.Name), "%s is not among the acts that are allowed on %s: %s", need.act, c.Name, need.why)
			return
		}
	}
	if m, known := r.c.Models[c.Model]; known {
		if err := m.MayTrip(act.Output()); err != nil {
			r.add(max(w.lines["trip"], w.line), key, "", "no trip can go through %s: %v", cut(w.rule.Trip), err)
		}
	}
}
