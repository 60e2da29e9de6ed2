package trend

import (
	"math"
	"testing"

	"steadyrail/capture/elementary"
)

func TestAfterAQuarter(t *testing.T) {
	if got := elementary.Exp(-0.25); got != afterQuarter {
		t.Errorf("e^-0.25 = %v, want %v", got, afterQuarter)
	}
	if got := math.Float64bits(chord(0.5)); got != 0x3ff067518b381eb3 { // bit by bit on every processor
		t.Errorf("chord(0.5) = %#x", got)
	}
}

func TestChordIsContinuousAndRight(t *testing.T) {
	for _, x := range []float64{1e-6, 1e-3, 0.1, 0.5, 0.999999, 1, 1.5, 10, 300} {
		want := 3 * (x*math.Cosh(x) - math.Sinh(x)) / (x * x * x)
		room := 1e-13
		if x < 0.1 { // where the closed form cancels
			want, room = 1+x*x/10+x*x*x*x/280, 1e-15
		}
		if got := chord(x); math.Abs(got-want) > room*want {
			t.Errorf("chord(%v) = %v, want %v", x, got, want)
		}
	}
}
