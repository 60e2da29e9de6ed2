package standin

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// 12 V and 10 W allow 3.6 ohm, 325 V and 50 W 528 ohm; a 60 W lamp for 230 V has
// 880 ohm hot, so that a healthy set of 50 W tells nothing through a resistor of
// that.
func TestLimiterOfWorkedFigures(t *testing.T) {
	near(t, "most at 12 V and 10 W", Limiter{Source: 12, Ohm: 1, Power: 10}.Judge().MostOhm, 3.6, 1e-12)
	r := Limiter{Source: 325, Ohm: 880, Power: 50}.Judge()
	near(t, "most at 325 V and 50 W", r.MostOhm, 528.125, 1e-12)
	if r.Word != CannotTell || len(r.Points) != 0 || !strings.HasPrefix(r.Say, "Cannot tell with this limiter") {
		t.Error(r.Word, r.Say)
	}
	lamp := Limiter{Source: 230, LampVolts: 230, LampWatts: 60, Power: 5}.Judge()
	near(t, "hot at rated volts", 230/lamp.ShortAmps, 881.67, 1e-4)
	near(t, "a short is the lamp's own power", lamp.Short, 60, 1e-9)
	near(t, "cold", lamp.Cold, 881.67/12, 1e-4)
	if lamp.Word != Fits {
		t.Error(lamp.Say)
	}
}

// The operating points of a resistor are the roots of V² − Vs·V + R·P = 0.
func TestLimiterMeetsItsRoots(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Limiter{Source: rapid.Float64Range(5, 400).Draw(t, "volts"), Power: rapid.Float64Range(0.5, 300).Draw(t, "watts")}
		part := rapid.Float64Range(0.01, 1.5).Draw(t, "part of the most")
		l.Ohm = part * LimiterOhm(l.Source, l.Power)
		r := l.Judge()
		if math.Abs(r.MostWatts-l.Source*l.Source/4/l.Ohm) > 1e-6*r.MostWatts {
			t.Fatalf("most %g W", r.MostWatts)
		}
		if math.Abs(part-1) < 1e-3 {
			return
		}
		if part > 1 != (len(r.Points) == 0) {
			t.Fatalf("%g of the most and %d points", part, len(r.Points))
		}
		if part > 1 {
			return
		}
		root := math.Sqrt(l.Source*l.Source - 4*l.Ohm*l.Power)
		for i, want := range []float64{(l.Source + root) / 2, (l.Source - root) / 2} {
			if math.Abs(r.Points[i].Set-want) > 1e-6*l.Source || math.Abs(r.Points[i].Set*r.Points[i].Ampere-l.Power) > 1e-5*l.Power {
				t.Fatalf("point %d: %+v, want %g V", i, r.Points[i], want)
			}
		}
		if (r.Word == Fits) != (part <= sure) && math.Abs(part-sure) > 1e-6 {
			t.Fatalf("%g of the most: %s", part, r.Word)
		}
	})
}

// A lamp is kinder than its hot resistance says, for it is colder with less volts
// across it; and what is wrong with a question is said.
func TestLampIsColderWhenTheSetRuns(t *testing.T) {
	r := Limiter{Source: 230, LampVolts: 230, LampWatts: 60, Power: 10}.Judge()
	if r.Word != Fits || r.Hot >= 800 || r.Points[0].Set < r.Points[1].Set || !r.Points[0].Stable {
		t.Errorf("%+v", r)
	}
	for want, l := range map[string]Limiter{
		"cannot start": {Source: 230, LampVolts: 230, LampWatts: 60, Power: 10, Peak: 40},
		"stops":        {Source: 230, LampVolts: 230, LampWatts: 60, Power: 10, Lowest: 225},
	} {
		if r := l.Judge(); r.Word != CannotTell {
			t.Errorf("%s: %s", want, r.Say)
		}
	}
	for want, l := range map[string]Limiter{
		"volts of the source": {Ohm: 1, Power: 1}, "a resistor in ohm, or a lamp": {Source: 1, Power: 1}, "not both": {Source: 1, Power: 1, Ohm: 1, LampVolts: 1, LampWatts: 1},
		"say the watts of the lamp": {Source: 1, Power: 1, LampVolts: 230}, "beyond": {Source: math.Inf(1), Power: 1, Ohm: 1}, "too little": {Source: 1, Power: 1e-300, Ohm: 1},
	} {
		if err := l.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}
