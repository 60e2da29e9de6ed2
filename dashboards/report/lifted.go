package report

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

// foundLead says what failed as found, rail by rail, and what had been taken off
// by then: a rail that is off with its converter lifted was not found so.
func (t teller) foundLead() string {
	var found []string
	live := false
	for _, r := range t.d.Rails {
		var words []string
		if b, ok := asFound(r.Before, capture.Resistance); ok && b.Outcome == capture.Fail {
			words = append(words, failedAs(b)+", "+fig(capture.Ohm, b.Value, b.Resolution))
		}
		if b, ok := asFound(r.Before, capture.DCVoltage); ok && b.Outcome == capture.Fail {
			words, live = append(words, failedAs(b)), true
		}
		if len(words) > 0 {
			found = append(found, named(r.Rail.Name)+": "+strings.Join(words, "; "))
		}
	}
	if len(found) == 0 {
		return ""
	}
	said := "As found, " + sentence(strings.Join(found, ". "))
	if off := t.liftedLive(); live && off != "" {
		said += " " + off
	}
	return said
}

// liftedLive says which parts were off the board when the rails were first read
// live; empty when none was.
func (t teller) liftedLive() string {
	var parts []string
	for _, r := range t.d.Rails {
		if b, ok := asFound(r.Before, capture.DCVoltage); ok {
			for _, p := range t.lifted(b.At) {
				if !slices.Contains(parts, p) {
					parts = append(parts, p)
				}
			}
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "The live readings were taken with " + capture.Listed(parts) + " lifted."
}

// lifted lists the parts that were off the board at an instant.
func (t teller) lifted(at capture.Instant) []string {
	var out []string
	for _, e := range t.d.Entries {
		part := e.Act.Subject
		if e.At > at || part == "" {
			continue
		}
		switch e.Act.Verb {
		case capture.ActLift:
			out = append(out, part)
		case capture.ActPutBack:
			out = slices.DeleteFunc(out, func(o string) bool { return o == part })
		}
	}
	return slices.Compact(out)
}

// strays names rails that were watched outside their band without an alarm:
// single readings that lasted too short to raise one. A reader must not find
// them only in the statistics.
func (t teller) strays() []string {
	var out []string
	for i, s := range t.states() {
		if s.alarmsEver > 0 {
			continue
		}
		b := t.d.Rails[i].Rail.Bounds
		for _, w := range t.d.Rails[i].Watches {
			if w.N > 0 && b.Low < b.High && (w.Min < b.Low || w.Max > b.High) {
				out = append(out, "Single readings of "+s.name+" left its band without raising an alarm: they went from "+fig(capture.Volt, w.Min, w.Resolution)+" to "+fig(capture.Volt, w.Max, w.Resolution)+".")
				break
			}
		}
	}
	return out
}
