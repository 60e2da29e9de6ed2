package rules

import (
	"strings"
	"testing"

	"steadyrail/capture"
)

// What flows in an injection is said with its figures, and no more: next to nothing
// only where the output stands at its set voltage, out of its current limit.
func TestWhatFlowsInAnInjection(t *testing.T) {
	const nothing = "next to nothing flows: 2 mA of at most 0.5 A, at 0.300 V of 0.3 V: the short is not there now, or a lead is off"
	type pair struct {
		at, v, i float64
		flags    capture.Flags
	}
	act := func(verb capture.Verb, text string, value float64) capture.Item {
		return capture.Act{Verb: verb, Subject: "supply", Text: text, Value: value}
	}
	for name, c := range map[string]struct {
		reads   []pair
		channel string
		nothing bool
		say     string
	}{
		"a short":                    {[]pair{{3, 0.021, 0.5, capture.Limiting}, {4, 0.021, 0.5, capture.Limiting}}, "supply", false, "0.500 A of at most 0.5 A flows, at 21 mV of 0.3 V, in its current limit"},
		"a lead is off":              {[]pair{{3, 0.3, 0.002, 0}, {4, 0.3, 0.002, 0}}, "supply", true, nothing},
		"one reading alone":          {[]pair{{3, 0.3, 0.002, 0}}, "supply", false, ""},
		"read before it was on":      {[]pair{{1, 0.3, 0.002, 0}, {1.5, 0.3, 0.002, 0}, {3, 0.3, 0.002, 0}}, "supply", false, ""},
		"something conducts":         {[]pair{{3, 0.3, 0.06, 0}, {4, 0.3, 0.06, 0}}, "supply", false, "60 mA of at most 0.5 A flows, at 0.300 V of 0.3 V"},
		"it does not come up":        {[]pair{{3, 0.1, 0.002, 0}, {4, 0.1, 0.002, 0}}, "supply", false, "2 mA of at most 0.5 A flows, at 0.100 V of 0.3 V"},
		"limiting at a small figure": {[]pair{{3, 0.3, 0.002, capture.Limiting}, {4, 0.3, 0.002, capture.Limiting}}, "supply", false, "2 mA of at most 0.5 A flows, at 0.300 V of 0.3 V, in its current limit"},
		"another instrument":         {[]pair{{3, 0.3, 0.002, 0}, {4, 0.3, 0.002, 0}}, "psu", false, ""},
		"the lead came off":          {[]pair{{3, 0.021, 0.5, capture.Limiting}, {4, 0.021, 0.5, capture.Limiting}, {5, 0.3, 0.002, 0}, {5.5, 0.3, 0.002, 0}, {7.6, 0.3, 0.002, 0}}, "supply", true, nothing},
	} {
		rule := capture.Rule{Name: "injection through supply", Kind: "injection", Rail: five.Name, Severity: capture.Urgent, Against: "supply", Implied: true}
		log := append(opening([]capture.Rule{rule}, five), capture.Record{At: at(0.5), Item: act(capture.ActInject, "start: volts 0.3, amperes 0.5", 60)}, capture.Record{At: at(2), Item: act(capture.ActOutput, "on", 0)})
		for _, p := range c.reads {
			v, i := volts(c.channel+"/volts", p.v), volts(c.channel+"/amperes", p.i)
			i.Quantity, i.Flags = capture.DCCurrent, p.flags
			log = append(log, capture.Record{At: at(p.at), Item: v}, capture.Record{At: at(p.at) + 1000, Item: i})
		}
		log = append(log, capture.Record{At: at(8), Item: act(capture.ActOutput, "off", 0)}, capture.Record{At: at(8.1), Item: act(capture.ActInject, "its time is over", 0)})
		log = append(log, capture.Record{At: at(9), Item: act(capture.ActOutput, "on", 0)}, capture.Record{At: at(9.1), Item: volts(c.channel+"/volts", 24)})
		sortLog(log)
		var f Flows
		var last Flowing
		e := New("")
		for _, rec := range log {
			for _, news := range f.Consume(rec) {
				last = news
			}
			e.Consume(rec)
		}
		if plain(last.Say) != c.say || last.Nothing != c.nothing {
			t.Errorf("%s: %q, next to nothing %v", name, last.Say, last.Nothing)
		}
		v := plain(e.Verdicts()[0].Say)
		if c.say != "" && v != "Injection through supply over, its output off. At last: "+c.say || c.say == "" && strings.Contains(v, "At last") {
			t.Errorf("%s: the rule says %q", name, v)
		}
	}
}

// A lead that is loose turns what flows with each look: the record is told what it
// was at first, and no more of it, nor anything when the output is off again.
func TestALooseLeadIsToldOnce(t *testing.T) {
	var f Flows
	told := 0
	consume := func(s float64, item capture.Item) {
		told += len(f.Consume(capture.Record{At: at(s), Item: item}))
	}
	consume(0.5, capture.Act{Verb: capture.ActInject, Subject: "supply", Text: "start: volts 0.3, amperes 0.5", Value: 60})
	consume(1, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "on"})
	for k := range 120 { // half a second each
		v, i := volts("supply/volts", 0.3), volts("supply/amperes", 0.002)
		if k/2%2 == 1 {
			v, i = volts("supply/volts", 0.02), volts("supply/amperes", 0.5)
			i.Flags = capture.Limiting
		}
		i.Quantity = capture.DCCurrent
		consume(2+float64(k)/2, v)
		consume(2+float64(k)/2, i)
	}
	consume(62, capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: "off"})
	consume(70, volts("supply/volts", 0.3))
	if told != 1 {
		t.Errorf("told %d times", told)
	}
}
