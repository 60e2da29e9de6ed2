package trend_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"steadyrail/capture"
	"steadyrail/rules/trend"
)

// surveyed takes so many readings, one a second, of a function of hours with
// noise of 1 mV whose neighbours correlate by phi.
func surveyed(seed uint64, n int, phi float64, f func(hours float64) float64) (trend.Summary, []float64) {
	s, r := trend.NewSurvey(), rand.New(rand.NewPCG(seed, 3))
	noise, all := r.NormFloat64(), make([]float64, n)
	for i := range all {
		all[i] = 5 + f(float64(i)/3600) + 0.001*noise
		s.Add(capture.Instant(1e15).Add(time.Duration(i)*time.Second), all[i], 1e-6)
		noise = phi*noise + math.Sqrt(1-phi*phi)*r.NormFloat64()
	}
	return s.Sum(), all
}

func still(float64) float64 { return 0 }

// What the survey says of the readings, against gonum and sorting.
func TestSurveyAgainstGonum(t *testing.T) {
	s, all := surveyed(1, 5000, 0.6, still)
	mean, sd := stat.MeanStdDev(all, nil)
	if math.Abs(s.Mean-mean) > 1e-12 || math.Abs(s.SD-sd) > 1e-12 {
		t.Errorf("mean %v, sd %v; gonum has %v and %v", s.Mean, s.SD, mean, sd)
	}
	slices.Sort(all)
	for p, got := range map[float64]float64{0.05: s.Low, 0.5: s.Median, 0.95: s.High} {
		low, high := stat.Quantile(max(0, p-s.RankError), stat.Empirical, all, nil), stat.Quantile(min(1, p+s.RankError), stat.Empirical, all, nil)
		if got < low || got > high {
			t.Errorf("quantile %v is %v, gonum has %v to %v for ranks off by %v", p, got, low, high, s.RankError)
		}
	}
	// AR(1) of 0.6: n(1-φ)/(1+φ) is a quarter.
	if s.Longer || math.Abs(s.Effective/1250-1) > 0.15 {
		t.Errorf("%.0f of 5000 count as independent (beyond the lags: %v), want about 1250", s.Effective, s.Longer)
	}
	if s, _ := surveyed(1, 5000, 0.98, still); !s.Longer {
		t.Errorf("a correlation of 50 readings reaches beyond the lags, and is not said: %.0f", s.Effective)
	}
}

// A slope is found within its interval, and called one; no slope is not.
func TestSurveyOfASlope(t *testing.T) {
	slope := func(perHour float64) func(float64) float64 { return func(h float64) float64 { return perHour * h } }
	moved, held := 0, 0
	const runs = 40
	for seed := range uint64(runs) {
		if s, _ := surveyed(seed, 7200, 0.3, slope(0.0005)); s.Drift.Enough && s.Kendall.P < 0.01 && s.Drift.Low*3600 <= 0.0005 && 0.0005 <= s.Drift.High*3600 {
			held++
		}
		if s, _ := surveyed(seed, 7200, 0.3, still); s.Kendall.P < 0.05 {
			moved++
		}
	}
	if held < runs*85/100 || moved > runs*15/100 {
		t.Errorf("a slope is held in %d of %d, none is called one in %d", held, runs, moved)
	}
}

func TestSurveyKnee(t *testing.T) {
	flat, _ := surveyed(2, 7200, 0, still)
	if flat.Knee.Rises || len(flat.Curve) < 5 {
		t.Errorf("noise alone: %+v of %d points", flat.Knee, len(flat.Curve))
	}
	for i, a := range flat.Curve[:4] { // 1 mV over the root of the readings in a mean
		if want := 0.001 / math.Sqrt(a.Tau.Seconds()); math.Abs(a.Overlapping/want-1) > 0.25 {
			t.Errorf("means over %s (point %d) differ by %g, want about %g", a.Tau, i, a.Overlapping, want)
		}
	}
	if s, _ := surveyed(2, 7200, 0, func(h float64) float64 { return 0.02 * h }); !s.Knee.Rises || !s.Knee.ByADrift {
		t.Errorf("a drift: %+v", s.Knee)
	}
	if s, _ := surveyed(2, 7200, 0, func(h float64) float64 { return 0.01 * math.Sin(2*math.Pi*h/0.7) }); !s.Knee.Rises || s.Knee.ByADrift {
		t.Errorf("a slow wandering: %+v", s.Knee)
	}
}

// The charts find a shift of one standard deviation of a block, near where it
// was; steady series leave their limits no more often than is said.
func TestSurveyShift(t *testing.T) {
	const runs = 300
	alarms, chance := 0, 0.0
	for seed := range uint64(runs) {
		s, _ := surveyed(seed, 3600, 0, still)
		if !s.Shift.Judged {
			t.Fatal("too few blocks")
		}
		if chance = s.Shift.Chance; s.Shift.Cusum != 0 || s.Shift.Ewma != 0 {
			alarms++
		}
	}
	t.Logf("%d of %d steady watches leave the limits, said: %.3f", alarms, runs, chance)
	if share := float64(alarms) / runs; share > chance+3*math.Sqrt(chance*(1-chance)/runs) {
		t.Errorf("%.3f of steady watches leave the limits, %.3f is said", share, chance)
	}
	block := 0.001 / math.Sqrt(60)
	s, _ := surveyed(4, 7200, 0, func(h float64) float64 {
		if h > 1 {
			return 3 * block
		}
		return 0
	})
	at := s.Shift.Cusum.Sub(capture.Instant(1e15))
	if s.Shift.Cusum == 0 || s.Shift.Ewma == 0 || at < 0 || at > 2*time.Hour {
		t.Errorf("a shift by three standard deviations of a block: %+v", s.Shift)
	}
}

// A short watch, and one whose digits never move, say so and nothing else.
func TestSurveyOfLittle(t *testing.T) {
	if s := trend.NewSurvey().Sum(); s.N != 0 || s.Drift.Why == "" || s.Curve != nil || s.Shift.Judged {
		t.Errorf("nothing: %+v", s)
	}
	if s, _ := surveyed(1, 30, 0, still); s.N != 30 || s.Drift.Why == "" || s.Curve != nil {
		t.Errorf("half a minute: %+v", s)
	}
	same := trend.NewSurvey()
	for i := range 600 {
		same.Add(capture.Instant(1e15).Add(time.Duration(i)*time.Second), 5.02, 0.01)
	}
	same.Add(capture.Instant(2e15), math.NaN(), 0.01)
	s := same.Sum()
	if s.N != 600 || s.SD != 0 || s.Shift.Judged || s.Kendall.S != 0 || s.Drift.High <= 0 || s.Knee.Rises {
		t.Errorf("identical digits: %+v", s)
	}
}
