package diagnose

import "steadyrail/capture"

// Trust is what a share is worth, from a thousand simulated boards
// (TestReliability; DEVELOPERS.md has the curve).
const Trust = "Of 1000 simulated boards, what was given 90 % or more was right in 95 of 100 cases, what was given 80 to 90 % in 88 of 100, and what was given less in fewer than half: a share below 90 % is a hint for the next entry, not a finding."

// table words the two-by-two of every rail on which a test was made, or of the
// rail that is asked about when none was.
func (b Board) table(made []TwoByTwo, asked string) []capture.TwoByTwo {
	if len(made) == 0 && asked != "" {
		made = []TwoByTwo{{Rail: asked, Say: asked + ": neither its source nor a load was tried alone yet."}}
	}
	out := []capture.TwoByTwo{}
	for _, t := range made {
		w := capture.TwoByTwo{Rail: t.Rail, Source: string(t.Source), Load: t.Load, Loaded: string(t.Loaded), Say: t.Say}
		load := t.Load
		if load == "" {
			load = "the load"
		}
		for _, c := range []TwoByTwo{{Source: OK, Loaded: OK}, {Source: OK, Loaded: NotOK}, {Source: NotOK, Loaded: OK}, {Source: NotOK, Loaded: NotOK}} {
			open := (t.Source == "" || t.Source == c.Source) && (t.Loaded == "" || t.Loaded == c.Loaded)
			w.Cells = append(w.Cells, capture.TwoByCell{Source: string(c.Source), Loaded: string(c.Loaded), Say: cellSays(c, load), Open: open, Here: open && t.Source != "" && t.Loaded != ""})
		}
		w.Try = b.tries(t)
		out = append(out, w)
	}
	return out
}

func cellSays(c TwoByTwo, load string) string {
	switch {
	case c.Source == OK && c.Loaded == OK:
		return "Look between them: connector, wires, start-up, current limit."
	case c.Source == OK:
		return "Repair " + load + "."
	case c.Loaded == OK:
		return "Repair the source, or what feeds and enables it."
	}
	return "Two faults, or one took the other with it."
}

// tries lists the tests of a rail that are still open.
func (b Board) tries(t TwoByTwo) []capture.TryingTest {
	out := []capture.TryingTest{}
	if t.Source == "" {
		out = append(out, capture.TryingTest{Line: "source " + t.Rail, Say: "The source of " + t.Rail + " alone, into a dummy load"})
	}
	for _, l := range b.Loads {
		if l.Rail == t.Rail && l.Connector != "" && t.Loaded == "" {
			out = append(out, capture.TryingTest{Line: "load " + l.Name, Say: l.Name + " alone, from the bench supply"})
		}
	}
	return out
}
