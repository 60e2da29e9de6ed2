package trim

import (
	"math"
	"testing"
	"time"

	"steadyrail/capture"
)

// TestThePitchComesHome: the nearer, the nearer to 660 Hz and the quicker; below
// single pips, above pairs, inside a chord that stands, silence never alike.
func TestThePitchComesHome(t *testing.T) {
	for _, state := range []string{Low, High} {
		before := math.Inf(1)
		pace := time.Hour
		for d := 12.0; d >= 1; d -= 0.25 {
			tone := toneOf(state, math.Copysign(d, map[string]float64{Low: -1, High: 1}[state]))
			far := math.Abs(math.Log2(tone.Hz[0] / home))
			if far > before || tone.Every > pace || tone.Every <= 0 {
				t.Fatalf("%s at %g: %+v", state, d, tone)
			}
			before, pace = far, tone.Every
			if want := map[string]int{Low: 1, High: 2}[state]; tone.Pips != want {
				t.Fatalf("%s: %d pips", state, tone.Pips)
			}
			if below := tone.Hz[0] < home; d > 1 && below != (state == Low) {
				t.Fatalf("%s at %g: %g Hz", state, d, tone.Hz[0])
			}
		}
	}
	chord := toneOf(Inside, 0)
	if chord.Every != 0 || len(chord.Hz) != 3 || chord.Hz[1]/chord.Hz[0] != 1.25 || chord.Hz[2]/chord.Hz[0] != 1.5 {
		t.Errorf("inside: %+v", chord)
	}
	if far := toneOf(Low, -10); far.Hz[0] != 330 || far.Every != 700*time.Millisecond {
		t.Errorf("ten half-bands low: %+v", far)
	}
	if none := toneOf(NoReading, 0); none.Hz[0] != 110 {
		t.Errorf("silence: %+v", none)
	}
}

// TestTheGainAgainstClosedForms: through the origin Σtm/Σt², and u of a single
// step is what the eighth of a turn and the step's own u give.
func TestTheGainAgainstClosedForms(t *testing.T) {
	one := []capture.Touch{{Turns: 2, Moved: 0.08, U: 0.001}}
	g := gain(one)
	want := math.Sqrt(math.Pow(0.001, 2)+math.Pow(0.04*0.125/math.Sqrt(3), 2)) / 2
	if math.Abs(g.PerTurn-0.04) > 1e-12 || math.Abs(g.U-want) > 1e-12 {
		t.Errorf("one touch: %+v, u %g", g, want)
	}
	three := []capture.Touch{{Turns: 1, Moved: 0.05}, {Turns: 2, Moved: 0.07}, {Turns: 1, Moved: 0.04}, {Turns: 3, Moved: 0.12}}
	// The first has no touch before it and may have slack in it: of the others
	// Σtm = 0.14 + 0.04 + 0.36, Σt² = 4 + 1 + 9.
	if g = gain(three); math.Abs(g.PerTurn-0.54/14) > 1e-12 || g.Touches != 3 {
		t.Errorf("four touches: %+v", g)
	}
	rest := math.Pow(0.07-2*0.54/14, 2) + math.Pow(0.04-0.54/14, 2) + math.Pow(0.12-3*0.54/14, 2)
	if least := math.Sqrt(rest / 2 / 14); g.U < least*(1-1e-9) {
		t.Errorf("u %g below its scatter %g", g.U, least)
	}
	if gain([]capture.Touch{{Moved: 0.02}}) != nil {
		t.Error("no turn was typed")
	}
}

func TestFractionsOfATurn(t *testing.T) {
	for turns, want := range map[float64]string{
		0.03: "a hair", 0.12: "an eighth of a turn", 0.76: "three quarters of a turn", 1: "one turn", 1.25: "one turn and a quarter",
		1.5: "one turn and half a turn", 2.4: "2.5 turns", 3: "3 turns", 7.7: "8 turns",
	} {
		if got := fraction(turns); got != want {
			t.Errorf("%g turns: %q, want %q", turns, got, want)
		}
	}
}
