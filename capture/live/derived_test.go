package live

import (
	"testing"

	"steadyrail/capture"
)

// TestDerivedIsShown: the newest figure of each formula, until the formula is
// another one; and a snapshot shares nothing with the table.
func TestDerivedIsShown(t *testing.T) {
	power := capture.Formula{Name: "power", Text: "supply/volts * supply/amperes", Unit: "W"}
	table := New("east", false, nil)
	set := func(list ...capture.Formula) {
		table.Consume(capture.Record{At: 2, Job: "AB-0147", Item: capture.RuleSet{Formulas: list}})
	}
	table.Consume(capture.Record{At: 1, Job: "AB-0147", Item: capture.Sheet{Job: "AB-0147"}})
	set(power)
	table.SetDerived("AB-0147", []capture.Derived{{Formula: power, Reading: capture.Reading{Value: 6}}})
	table.SetDerived("AB-0147", []capture.Derived{{Formula: power, Reading: capture.Reading{Value: 7}}})
	table.SetDerived("AB-0148", []capture.Derived{{Formula: power}})
	shown := func() []capture.Derived { j, _ := table.Snapshot().Job("AB-0147"); return j.Derived }
	got := shown()
	if len(got) != 1 || got[0].Reading.Value != 7 {
		t.Fatalf("%+v", got)
	}
	got[0].Reading.Value = 8
	version := table.Version()
	table.SetDerived("AB-0147", nil)
	if table.Version() != version || shown()[0].Reading.Value != 7 {
		t.Error("nothing new changed the table")
	}
	set(power)
	if len(shown()) != 1 {
		t.Error("the same formula lost its figure")
	}
	power.Text = "supply/amperes * supply/volts"
	set(power)
	if len(shown()) != 0 {
		t.Error("another formula kept the figure of the old one")
	}
}
