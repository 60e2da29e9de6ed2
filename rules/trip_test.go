package rules

import (
	"fmt"
	"slices"
	"testing"

	"steadyrail/capture"
)

// checkTrips holds the trips that came against those that a scenario expects.
func (s *scenario) checkTrips(got []Trip) (wrong []string) {
	for i, x := range s.trips {
		if i >= len(got) {
			wrong = append(wrong, fmt.Sprintf("line %d: trip at %g s did not come: %s", x.line, x.at, x.want))
			continue
		}
		rule, _, _ := cutAlarm(got[i].Alarm)
		word := rule + map[bool]string{true: " armed", false: " unarmed"}[got[i].Armed]
		sec := float64(got[i].At-epoch) / 1e6
		if word != x.want || sec < x.at-0.001 || sec > x.at+0.11 || got[i].Output != "supply" {
			wrong = append(wrong, fmt.Sprintf("line %d: want at %g s trip %s; got at %.3f s %s through %s", x.line, x.at, x.want, sec, word, got[i].Output))
		}
	}
	for _, g := range got[min(len(s.trips), len(got)):] {
		wrong = append(wrong, fmt.Sprintf("unexpected trip at %.3f s: %+v", float64(g.At-epoch)/1e6, g))
	}
	return wrong
}

func cutAlarm(id string) (rule, at string, ok bool) {
	for i := len(id) - 1; i >= 0; i-- {
		if id[i] == '@' {
			return id[:i], id[i+1:], true
		}
	}
	return id, "", false
}

// A written rule with the name of an implied one stands in its place when it is
// about the same; otherwise both stand, and the check finds two of a name.
func TestWrittenReplacesImplied(t *testing.T) {
	sheet := capture.Sheet{Rails: []capture.Rail{five}}
	implied := Implied(sheet, capture.Roster{})
	mine := capture.Rule{Name: "collapse " + five.Name, Kind: "collapse", Rail: five.Name, Trip: "supply/1"}
	set := capture.RuleSet{Rules: Written(implied, []capture.Rule{mine})}
	if errs := Check(sheet, set); len(errs) > 0 {
		t.Fatal(errs)
	}
	if !slices.Contains(set.Rules, mine) || len(set.Rules) != len(implied)+1 {
		t.Errorf("%d rules of %d and a trip's watch, without what was written", len(set.Rules), len(implied))
	}
	watch := set.Rules[len(set.Rules)-1]
	if watch.Kind != "trip" || watch.Against != "supply/1" || watch.Trip != "" || watch.Severity != capture.Urgent || !watch.Implied {
		t.Errorf("the watch over the trip is %+v", watch)
	}
	mine.Kind = "band"
	if errs := Check(sheet, capture.RuleSet{Rules: Written(implied, []capture.Rule{mine})}); len(errs) != 1 {
		t.Errorf("a rule of another kind under an implied one's name: %v", errs)
	}
}

// Two rules of a rail through one output need one watch.
func TestOneWatchForRailAndOutput(t *testing.T) {
	rule := func(name, trip string) capture.Rule {
		return capture.Rule{Name: name, Kind: "band", Rail: five.Name, Trip: trip}
	}
	n := 0
	for _, r := range Written(nil, []capture.Rule{rule("a", "supply"), rule("b", "supply"), rule("c", "psu/1"), rule("d", "")}) {
		if r.Kind == "trip" {
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d watches over two outputs", n)
	}
}

func passed(e *Engine, rail string) bool {
	_, ok := e.ColdPassed(rail)
	return ok
}

// A cold check counts from a pass until the rail is found short, also after the
// probe has gone.
func TestColdPassed(t *testing.T) {
	e := New("")
	say := func(o capture.Outcome) { e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Outcome: o}) }
	for i, c := range []struct {
		outcome capture.Outcome
		passed  bool
	}{
		{capture.NoData, false}, {capture.Fail, false}, {capture.Pass, true}, {capture.NoData, true},
		{capture.ConditionalFail, true}, {capture.Fail, false}, {capture.ConditionalPass, false}, {capture.Pass, true}, {capture.Pass, true},
	} {
		if say(c.outcome); passed(e, five.Name) != c.passed || passed(e, dsp.Name) {
			t.Errorf("%d: after %s the cold check counts as passed: %t", i, c.outcome, passed(e, five.Name))
		}
	}
	e.noteCold(capture.Verdict{Kind: "band", Rail: dsp.Name, Outcome: capture.Pass})
	if passed(e, dsp.Name) {
		t.Error("a band is no cold check")
	}
}

// A rail that is short forward stays so, though backwards it reads as none: a walk
// reads it backwards last.
func TestColdCheckWithLeadsExchanged(t *testing.T) {
	e := New("")
	turn := func(way string) {
		e.Consume(capture.Record{At: at(1), Item: capture.Act{Verb: capture.ActPolarity, Subject: "dmm/ohms", Text: way}})
	}
	say := func(o capture.Outcome) {
		e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Channel: "dmm/ohms", Outcome: o})
	}
	for i, c := range []struct {
		way     string
		outcome capture.Outcome
		passed  bool
	}{
		{capture.Reverse, capture.Pass, false}, {capture.Forward, capture.Fail, false}, {capture.Reverse, capture.Pass, false},
		{capture.Forward, capture.Pass, true}, {capture.Reverse, capture.Pass, true}, {capture.Reverse, capture.Fail, false},
	} {
		turn(c.way)
		if say(c.outcome); passed(e, five.Name) != c.passed {
			t.Errorf("%d: %s, %s: passed %t", i, c.way, c.outcome, passed(e, five.Name))
		}
	}
}

// What was decided before power came permits nothing by itself: a held word is
// no new pass, takes none away, and a rail that is found short has lost its own.
func TestHeldWordIsNoColdCheck(t *testing.T) {
	e := New("")
	held := capture.HeldWord{Outcome: capture.Pass, Say: "4.67 kΩ: no short", At: at(1), Since: at(2), Why: "supply/1 was switched on"}
	e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Held: held})
	if passed(e, five.Name) {
		t.Error("a held pass is a cold check")
	}
	e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Outcome: capture.Pass})
	e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Held: held})
	if !passed(e, five.Name) {
		t.Error("power took a cold check away")
	}
	e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Outcome: capture.Fail})
	e.noteCold(capture.Verdict{Kind: "short", Rail: five.Name, Held: held})
	if passed(e, five.Name) {
		t.Error("a rail that was found short has passed by what was held before")
	}
}
