package job

import (
	"errors"
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
)

func TestCheckStage(t *testing.T) {
	for _, c := range []struct {
		from, to capture.Stage
		reason   string
		want     error
	}{
		{"", capture.TakeIn, "", nil},
		{"", capture.ColdChecks, "", ErrNeedsReason},
		{capture.TakeIn, capture.ColdChecks, "", nil},
		{capture.ColdChecks, capture.LiveChecks, "", ErrNeedsReason},
		{capture.ColdChecks, capture.LiveChecks, "  ", ErrNeedsReason},
		{capture.ColdChecks, capture.LiveChecks, "no short", nil},
		{capture.Soak, capture.Trim, "", ErrNeedsReason},
		{capture.Soak, capture.Trim, "drifted", nil},
		{capture.Soak, capture.SignOff, "", nil},
		{capture.Soak, capture.Soak, "again", ErrNotNow},
		{capture.Soak, "lunch", "hungry", ErrBadAct},
	} {
		if err := CheckStage(c.from, c.to, c.reason); !errors.Is(err, c.want) {
			t.Errorf("%q to %q (%q): %v, want %v", c.from, c.to, c.reason, err, c.want)
		}
	}
	if err := CheckStage(capture.ColdChecks, capture.StandIn, ""); !strings.Contains(err.Error(), "isolate, live checks") {
		t.Errorf("%v: does not say what is skipped", err)
	}
}

func TestCheckAct(t *testing.T) {
	hash := strings.Repeat("0a", 32)
	enclosed := `{"sha256":"` + hash + `","type":"image/jpeg","bytes":9}`
	good := []capture.Act{
		{Verb: capture.ActOpen}, {Verb: capture.ActClose}, {Verb: capture.ActNote, Text: "x"}, {Verb: capture.ActFinding, Text: "x"},
		{Verb: capture.ActStage, Stage: capture.Soak}, {Verb: capture.ActSoak, Text: "start", Value: 3600}, {Verb: capture.ActSoak, Text: "stop"},
		{Verb: capture.ActNull, Value: 0.2}, {Verb: capture.ActAmbient, Value: 31.5}, {Verb: capture.ActHeard, Subject: "a"}, {Verb: capture.ActReset, Subject: "a"}, {Verb: capture.ActMute, Value: 60},
		{Verb: capture.ActOutput, Subject: "supply", Text: "off"}, {Verb: capture.ActInput, Subject: "load", Text: "on"}, {Verb: capture.ActLimits, Subject: "supply", Text: "volts 24"}, {Verb: capture.ActTurn, Value: -1},
		{Verb: capture.ActLift, Subject: "CN3"}, {Verb: capture.ActPutBack, Subject: "CN3"}, {Verb: capture.ActLinkLost, Subject: "dmm"}, {Verb: capture.ActLinkBack, Subject: "dmm"},
		{Verb: capture.ActTap, Subject: "dmm", Text: "+5 V logic"}, {Verb: capture.ActTap, Subject: "dmm", Text: capture.TapWanted}, {Verb: capture.ActTap, Subject: "dmm"},
		{Verb: capture.ActTake, Subject: "dmm/ohms", Text: "+5 V logic", Value: 3},
		{Verb: capture.ActRegimen, Text: planText}, {Verb: capture.ActSoakStep, Value: 1, Text: capture.StepBegun}, {Verb: capture.ActSoakStep, Value: 1, Text: "stopped: an alarm"}, {Verb: capture.ActSoakStep, Text: capture.StepGoesOn},
		{Verb: capture.ActMark, Subject: "+5 V logic", Text: `{"load": 0.62}`}, {Verb: capture.ActTrimmer, Subject: "+5 V logic", Text: "1 V", Value: 25},
		{Verb: capture.ActVouch, Subject: "dmm on +350 V plate", Text: "its sockets say 600 V"},
		{Verb: capture.ActTried, Subject: "+5 V logic", Text: "source +5 V logic ok"}, {Verb: capture.ActBoard, Subject: "supply board", Text: "rails: []"}, {Verb: capture.ActAnew, Text: "PS2 replaced"},
		{Verb: capture.ActJudge, Subject: "+5 V logic", Text: `{"candidate":"board A","say":"Board A may stand in."}`},
		{Verb: capture.ActCaution, Subject: capture.CautionHeat}, {Verb: capture.ActPolarity, Subject: "dmm/ohms", Text: capture.Reverse}, {Verb: capture.ActDischarged, Subject: "C1", Text: "C1 is below 5 V"},
		{Verb: capture.ActDischarge, Subject: "C1", Text: capture.Discharge{What: "C1", Channel: "dmm/volts", Ohms: 2200, Farads: 220e-6, Volts: 325, Level: 5}.Text()},
		{Verb: capture.ActProve, Subject: "dmm/volts", Text: capture.NewMeterProof("a battery", 9, 9.1, 0.1).Text()},
		{Verb: capture.ActPicture, Subject: "serial plate", Text: enclosed}, {Verb: capture.ActSound, Text: enclosed}, {Verb: capture.ActErase, Subject: hash, Text: "a face"},
		{Verb: capture.ActHandover, Subject: "192.168.1.20:4711", Text: "open for 10 min"},
		{Verb: capture.ActIndication, Text: "3 blinks"}, {Verb: capture.ActPart, Subject: "PS2", Text: `{"type":"SR-5","origin":"own stock","quantity":1}`},
	}
	seen := map[capture.Verb]bool{}
	for _, a := range good {
		seen[a.Verb] = true
		if err := CheckAct(a); err != nil {
			t.Errorf("%+v: %v", a, err)
		}
		if say := Entry(a); say == "" || strings.ContainsAny(say[:1], "abcdefghijklmnopqrstuvwxyz") && a.Text != "x" || !strings.HasSuffix(say, ".") {
			t.Errorf("%+v: %q is no sentence", a, say)
		}
	}
	for verb := range needs {
		if !seen[verb] || sentences[verb] == nil {
			t.Errorf("%s: no example here or no sentence", verb)
		}
	}
	for _, a := range []capture.Act{
		{}, {Verb: "dance"}, {Verb: capture.ActNote}, {Verb: capture.ActNote, Text: " \n"}, {Verb: capture.ActNote, Text: "\xff"},
		{Verb: capture.ActNote, Text: strings.Repeat("x", longestText+1)}, {Verb: capture.ActNote, Text: "x", Stage: "lunch"}, {Verb: capture.ActNote, Text: "x", By: "\xff"},
		{Verb: capture.ActFinding}, {Verb: capture.ActStage}, {Verb: capture.ActSoak}, {Verb: capture.ActSoak, Text: "start", Value: -1}, {Verb: capture.ActSoak, Text: "start", Value: 1e11}, {Verb: capture.ActMute, Value: 1e11},
		{Verb: capture.ActNull, Value: math.NaN()}, {Verb: capture.ActNull, Value: -1}, {Verb: capture.ActAmbient, Value: 300}, {Verb: capture.ActHeard}, {Verb: capture.ActReset}, {Verb: capture.ActMute, Value: math.Inf(1)},
		{Verb: capture.ActOutput, Subject: "supply"}, {Verb: capture.ActOutput, Text: "on"}, {Verb: capture.ActInput, Subject: "load"}, {Verb: capture.ActInput, Text: "on"}, {Verb: capture.ActLimits}, {Verb: capture.ActTurn}, {Verb: capture.ActLift}, {Verb: capture.ActPutBack},
		{Verb: capture.ActLinkLost}, {Verb: capture.ActLinkBack}, {Verb: capture.ActTap}, {Verb: capture.ActTake, Subject: "dmm/ohms"},
		{Verb: capture.ActRegimen}, {Verb: capture.ActRegimen, Text: "{}"}, {Verb: capture.ActSoakStep, Text: capture.StepDone}, {Verb: capture.ActSoakStep, Value: 1, Text: "danced"},
		{Verb: capture.ActMark}, {Verb: capture.ActMark, Subject: "+5 V logic", Text: `{"load": -1}`}, {Verb: capture.ActMark, Subject: "+5 V logic", Text: "0.6 A"},
		{Verb: capture.ActTrimmer, Subject: "+5 V logic", Value: 25}, {Verb: capture.ActTrimmer, Subject: "+5 V logic", Text: "1 V"}, {Verb: capture.ActTrimmer, Text: "1 V", Value: 25},
		{Verb: capture.ActTried, Subject: "x"}, {Verb: capture.ActBoard, Subject: "x"}, {Verb: capture.ActBoard, Text: "x"}, {Verb: capture.ActAnew},
		{Verb: capture.ActCaution, Subject: "weather"}, {Verb: capture.ActCaution}, {Verb: capture.ActPolarity, Subject: "dmm/ohms"}, {Verb: capture.ActPolarity, Text: capture.Reverse}, {Verb: capture.ActDischarged}, {Verb: capture.ActDischarge, Subject: "C1"},
		{Verb: capture.ActDischarge, Text: capture.Discharge{What: "C1", Channel: "dmm/volts", Ohms: 2200, Volts: 325, Level: 5}.Text()},
		{Verb: capture.ActDischarge, Text: capture.Discharge{What: "C1", Ohms: 2200, Farads: 1e-3, Volts: 325, Level: 5}.Text()},
		{Verb: capture.ActProve, Subject: "dmm/volts"}, {Verb: capture.ActProve, Text: capture.NewMeterProof("a battery", 9, 9, 0.1).Text()},
		{Verb: capture.ActPicture, Text: "a cat"}, {Verb: capture.ActSound, Text: `{"sha256":"0a","type":"audio/ogg"}`}, {Verb: capture.ActErase, Subject: hash}, {Verb: capture.ActErase, Subject: "0a", Text: "x"},
		{Verb: capture.ActIndication}, {Verb: capture.ActPart, Text: "PS2"}, {Verb: capture.ActPart, Subject: " ", Text: `{"type":"SR-5","origin":"own stock","quantity":1}`}, {Verb: capture.ActPart, Subject: "PS2", Text: `{"type":"SR-5","quantity":1}`}, {Verb: capture.ActPart, Subject: "PS2", Text: `{"type":"SR-5","origin":"own stock"}`},
	} {
		if err := CheckAct(a); !errors.Is(err, ErrBadAct) {
			t.Errorf("%+v: %v, want ErrBadAct", a, err)
		}
	}
}

func TestCheckInTheBook(t *testing.T) {
	s := &script{book: &Book{}}
	check := func(a capture.Act, want error) {
		t.Helper()
		if err := s.book.Check(a); !errors.Is(err, want) {
			t.Errorf("%+v: %v, want %v", a, err, want)
		}
	}
	open, shut := capture.Act{Verb: capture.ActOpen}, capture.Act{Verb: capture.ActClose}
	start, stop := capture.Act{Verb: capture.ActSoak, Text: "start"}, capture.Act{Verb: capture.ActSoak, Text: "stop"}
	check(open, nil)
	s.do(1, open, stage(capture.TakeIn, ""))
	check(open, ErrNotNow)
	check(stage(capture.ColdChecks, ""), nil)
	check(stage(capture.Soak, ""), ErrNeedsReason)
	check(stop, ErrNotNow)
	check(start, nil)
	s.do(2, start)
	check(start, ErrNotNow)
	check(stop, nil)
	check(capture.Act{Verb: capture.ActNote}, ErrBadAct)
	s.do(3, shut)
	check(start, ErrNotNow)
	check(stage(capture.ColdChecks, ""), ErrNotNow)
	check(shut, ErrNotNow)
	check(capture.Act{Verb: capture.ActNote, Text: "came back"}, nil)
	check(open, nil)
	s.do(4, open)
	check(stage(capture.ColdChecks, ""), nil)
}

func TestNextID(t *testing.T) {
	taken := map[string]bool{"AB-0148": true, "AB-0149": true}
	for last, want := range map[string]string{
		"": "AB-0001", "AB-0147": "AB-0150", "AB-0199": "AB-0200", "AB-9999": "AB-10000", "7": "8", "fixture": "fixture-2", "2026.14b": "2026.15b",
		"x-00000000000000000000000000000009": "x-00000000000000000000000000000010",
	} {
		got := NextID(last, func(id string) bool { return taken[id] })
		if got != want {
			t.Errorf("after %q: %q, want %q", last, got, want)
		}
		if err := capture.CheckJobID(got); err != nil {
			t.Error(err)
		}
	}
	if got := NextID("AB-0147", nil); got != "AB-0148" {
		t.Errorf("nobody asked: %q", got)
	}
}

// An output that did not confirm is not called on: nobody switched it on.
func TestOutputSentences(t *testing.T) {
	for text, want := range map[string]string{
		"on": "Output of supply switched on.", "off": "Output of supply switched off.",
		capture.SwitchingOff: "Output of supply is being switched off.", capture.NotConfirmed: "Output of supply: nothing confirmed that it is off.",
	} {
		if got := Entry(capture.Act{Verb: capture.ActOutput, Subject: "supply", Text: text}); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}
