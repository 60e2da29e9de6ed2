package diagnose

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"steadyrail/capture"
)

func board(name string, five, back float64) GoodBoard {
	return GoodBoard{name, []Healthy{{Rail: "+5 V logic", Ohms: five, Reversed: back}}}
}

func TestKnownGood(t *testing.T) {
	var list []GoodBoard
	for i, v := range []float64{110, 114, 108, 116, 112, 111, 113} {
		list = append(list, board(fmt.Sprintf("AB-%d", i), v, v-4))
	}
	got := KnownGood(append(list, board("AB-9", 71, 106)))
	if len(got) != 2 || got[0].N != 8 || !got[1].Reversed {
		t.Fatalf("%+v", got)
	}
	if len(got[0].Odd) != 1 || got[0].Odd[0].Board != "AB-9" || len(got[1].Odd) != 0 {
		t.Errorf("odd: %+v, %+v", got[0].Odd, got[1].Odd)
	}
	if names := OddBoards(got); len(names) != 1 || names[0] != "AB-9" {
		t.Errorf("odd boards %q", names)
	}
	// By hand from the seven: logarithms' mean and sd, k(7) = 4.020.
	g := KnownGood(list)[0]
	var sum, sq float64
	for _, v := range []float64{110, 114, 108, 116, 112, 111, 113} {
		sum += math.Log(v)
	}
	for _, v := range []float64{110, 114, 108, 116, 112, 111, 113} {
		sq += math.Pow(math.Log(v)-sum/7, 2)
	}
	low, high := math.Exp(sum/7-4.020*math.Sqrt(sq/6)), math.Exp(sum/7+4.020*math.Sqrt(sq/6))
	if math.Abs(g.Low-low) > 0.02 || math.Abs(g.High-high) > 0.02 {
		t.Errorf("%g to %g, by hand %g to %g", g.Low, g.High, low, high)
	}
}

func TestKnownGoodTooFew(t *testing.T) {
	for n, want := range []string{"", "not enough boards", "wide because the boards are few"} {
		var list []GoodBoard
		for i := range n {
			list = append(list, board(fmt.Sprint(i), 110+float64(i), 0))
		}
		got := KnownGood(list)
		if n == 0 && len(got) == 0 {
			continue
		}
		if len(got) != 1 || !strings.Contains(got[0].Say, want) || len(got[0].Odd) != 0 {
			t.Errorf("%d boards: %+v", n, got)
		}
	}
	if g := KnownGood([]GoodBoard{board("a", 110, 0), board("b", 110, 0), board("c", 110, 0)})[0]; g.High/g.Low < 1.01 {
		t.Errorf("boards that read the same: %g to %g, narrower than a hand-held reading", g.Low, g.High)
	}
}

// A job's readings at rest are the newest with everything on, both ways round.
func TestRested(t *testing.T) {
	s := begun(t)
	s.read(ohmsHere, "+5 V logic", "TP5", 0.8)
	s.act(capture.ActLift, "PS2", "")
	s.again(ohmsHere, 140)
	s.act(capture.ActPutBack, "ps2", "")
	s.again(ohmsHere, 112)
	s.act(capture.ActPolarity, "dmm/ohms", capture.Reverse)
	s.read(ohmsHere, "+5 V logic", "TP5", 108)
	s.act(capture.ActPolarity, "dmm/ohms", capture.Forward)
	s.read(ohmsHere, "", "+12 V audio, leads reversed", 300)
	got := s.tr.Rested()
	if len(got) != 2 || math.Abs(got[0].Ohms-112) > 1e-9 || math.Abs(got[0].Reversed-108) > 1e-9 || got[1].Rail != "+12 V audio" || math.Abs(got[1].Reversed-300) > 1e-9 || got[1].Ohms != 0 {
		t.Errorf("%+v", got)
	}
	b := piano(t)
	for _, e := range s.search(&b).Entries {
		if strings.Contains(e, "108") || strings.Contains(e, "300") {
			t.Errorf("a reading with the leads exchanged counts as %q", e)
		}
	}
}
