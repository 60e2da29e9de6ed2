package rules

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// storedJob is a stored job as [Compare] reads one: the record, and the alarms that
// were told.
type storedJob struct {
	Source
	log   []capture.Record
	alarm []capture.Transition
}

func (s *storedJob) Records(_ context.Context, from, to capture.Instant, yield func(capture.Record) error) error {
	return walk(s.log)(func(r capture.Record) error {
		if r.At < from || to != 0 && r.At >= to {
			return nil
		}
		return yield(r)
	})
}

func (s *storedJob) Transitions(context.Context) ([]capture.Transition, error) { return s.alarm, nil }
func (s *storedJob) Head(context.Context) (capture.Head, error)                { return capture.Head{}, nil }
func (s *storedJob) Series(context.Context, []capture.Span, capture.Quantity, capture.Instant, capture.Instant, int) ([]capture.Bucket, error) {
	return nil, nil
}

// sagged is a soak in which the rail lies low from 10 s to 12 s, and lower from
// 20 s to 20.6 s.
func sagged(t *testing.T) *storedJob {
	log := opening(nil, five)
	log = append(log, capture.Record{At: at(0.5) + 13, Item: capture.Act{Verb: capture.ActSoak, Text: "start", Value: 29}})
	for i := 5; i < 150; i++ {
		sec := float64(i) / 5
		v := 5.0
		switch {
		case sec >= 10 && sec < 12:
			v = 4.85
		case sec >= 20 && sec < 20.6:
			v = 4.75
		}
		log = append(log, capture.Record{At: at(sec) + 17, Item: volts("dmm/volts", v)})
	}
	log = append(log, capture.Record{At: at(30) + 13, Item: capture.Act{Verb: capture.ActSoak, Text: "stop"}})
	alarm, err := Replay(bg, walk(log), 0)
	if err != nil {
		t.Fatal(err)
	}
	return &storedJob{log: log, alarm: alarm}
}

func told(c Comparison) string {
	var out []string
	for _, p := range c.Alarms {
		switch {
		case p.Then == nil:
			out = append(out, "new "+p.Now.Rule)
		case p.Now == nil:
			out = append(out, "gone "+p.Then.Rule)
		default:
			out = append(out, "same "+p.Now.Rule)
		}
	}
	return strings.Join(out, ", ")
}

// TestCompare: a stricter rule of the same name, another beside the implied
// ones, a laxer one, and the file's rules alone.
func TestCompare(t *testing.T) {
	s := sagged(t)
	quick := capture.Rule{Name: "band +5 V logic", Kind: "band", Rail: five.Name, Severity: capture.Urgent, OnDelay: 200 * time.Millisecond}
	lax := quick
	lax.OnDelay = time.Minute
	deep := capture.Rule{Name: "deep", Kind: "collapse", Rail: five.Name, Limit: 4.8}
	for name, c := range map[string]struct {
		what WhatIf
		want string
	}{
		"nothing else": {WhatIf{}, "same band +5 V logic"},
		"quicker":      {WhatIf{Rules: []capture.Rule{quick}}, "same band +5 V logic, new band +5 V logic"},
		"laxer":        {WhatIf{Rules: []capture.Rule{lax}}, "gone band +5 V logic"},
		"another":      {WhatIf{Rules: []capture.Rule{deep}}, "same band +5 V logic, new deep"},
		"only":         {WhatIf{Rules: []capture.Rule{deep}, Only: true}, "gone band +5 V logic, new deep"},
		"renamed":      {WhatIf{Rules: []capture.Rule{{Name: "mine", Kind: "band", Rail: five.Name, OnDelay: time.Second}}, Only: true}, "same mine"},
	} {
		before := slices.Clone(s.log)
		got, err := Compare(bg, s, 0, c.what)
		if err != nil || told(got) != c.want {
			t.Errorf("%s: %s, %v; want %s", name, told(got), err, c.want)
		}
		if got.Opened != epoch+1 || got.Job != "AB-0147" || !slices.Equal(got.Engines, []string{Version}) || got.Then == nil || got.Now == nil {
			t.Errorf("%s: %+v", name, got)
		}
		if !reflect.DeepEqual(before, s.log) {
			t.Errorf("%s: the record was changed", name)
		}
	}
}

// TestCompareSoak: what failed passes when nothing is looked for, and says so
// of both.
func TestCompareSoak(t *testing.T) {
	s := sagged(t)
	got, err := Compare(bg, s, 0, WhatIf{Rules: []capture.Rule{{Name: "deep", Kind: "collapse", Rail: five.Name, Limit: 4.8}}})
	if err != nil || got.Then.Failures >= got.Now.Failures || got.Then.Failures == 0 {
		t.Errorf("%v: failures then %+v, now %+v", err, got.Then, got.Now)
	}
}

// TestRulesHoldFromTheFirst: a job whose rule set was changed midway is judged
// by the file's from its first one on, and a formula can be among them.
func TestRulesHoldFromTheFirst(t *testing.T) {
	s := sagged(t)
	mid := capture.Record{At: at(15) + 29, Item: capture.RuleSet{Rules: []capture.Rule{{Name: "own", Kind: "collapse", Rail: five.Name}}, Engine: "2"}}
	i := slices.IndexFunc(s.log, func(r capture.Record) bool { return r.At > mid.At })
	s.log = slices.Insert(s.log, i, mid)
	f := capture.Formula{Name: "twice", Text: "dmm/volts + dmm/volts - 5 V", Unit: "V"}
	rule := capture.Rule{Name: "of twice", Kind: "collapse", Rail: five.Name, Of: f.Channel(), Limit: 4.8}
	got, err := Compare(bg, s, 0, WhatIf{Rules: []capture.Rule{rule}, Formulas: []capture.Formula{f}})
	if err != nil {
		t.Fatal(err)
	}
	// The implied band is gone with the set of 15 s; its alarm of 11 s stays, and
	// the file's rule speaks before and after.
	if w := "new of twice, same band +5 V logic, new of twice"; told(got) != w || !slices.Equal(got.Engines, []string{Version, "2"}) {
		t.Errorf("%s %v, want %s", told(got), got.Engines, w)
	}
}

// TestCompareOverAGap: nothing is heard in it, and nothing made up.
func TestCompareOverAGap(t *testing.T) {
	s := sagged(t)
	s.log = slices.DeleteFunc(s.log, func(r capture.Record) bool { return r.At > at(9) && r.At < at(13) })
	i := slices.IndexFunc(s.log, func(r capture.Record) bool { return r.At > at(13) })
	s.log = slices.Insert(s.log, i, capture.Record{At: at(13) + 1, Item: capture.Gap{From: at(9), To: at(13), Reason: "not running"}})
	s.alarm = nil
	got, err := Compare(bg, s, 0, WhatIf{})
	if err != nil || len(got.Alarms) != 0 {
		t.Errorf("%s, %v", told(got), err)
	}
}

// TestPairsLoseNothing: every alarm stands in exactly one pair, in order, and
// an alarm is its own partner.
func TestPairsLoseNothing(t *testing.T) {
	draw := func(t *rapid.T, label string) []Occurrence {
		var out []Occurrence
		came := epoch
		for range rapid.IntRange(0, 8).Draw(t, label) {
			came += capture.Instant(rapid.IntRange(1, 5).Draw(t, "pause"))
			o := Occurrence{Rule: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "rule"), Kind: "band", Rail: rapid.SampledFrom([]string{"x", "y"}).Draw(t, "rail"), Came: came}
			if rapid.Bool().Draw(t, "went") {
				o.Went = came + capture.Instant(rapid.IntRange(1, 9).Draw(t, "length"))
			}
			out = append(out, o)
		}
		return out
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := draw(t, "then"), draw(t, "now")
		thens, nows := 0, 0
		for _, p := range Pairs(a, b) {
			if p.Then != nil {
				thens++
			}
			if p.Now != nil {
				nows++
			}
			if p.Then != nil && p.Now != nil && (p.Then.Rail != p.Now.Rail || !p.Then.overlaps(*p.Now)) {
				t.Fatalf("%+v", p)
			}
		}
		if thens != len(a) || nows != len(b) {
			t.Fatalf("%d of %d then, %d of %d now", thens, len(a), nows, len(b))
		}
		for _, p := range Pairs(a, slices.Clone(a)) {
			if p.Then == nil || p.Now == nil || p.Then.Rule != p.Now.Rule {
				t.Fatalf("against itself: %+v", p)
			}
		}
	})
}
