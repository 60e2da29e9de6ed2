package coverage_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
	"steadyrail/rules/coverage"
)

const day = 24 * time.Hour

func planned(t *testing.T, q capture.SoakQuestion) (capture.SoakPlan, string) {
	t.Helper()
	p, err := coverage.Plan(q)
	if err != nil {
		t.Fatal(err)
	}
	return p, strings.ReplaceAll(strings.Join(p.Say, "\n"), "\u00a0", " ")
}

func TestPlanOfHours(t *testing.T) {
	p, said := planned(t, capture.SoakQuestion{Every: day})
	if !near0(p.Clean/3600, 2.995732*24, 0.001) || p.Planned != p.Clean || p.Confidence != 0.95 || p.Dip != nil || p.Cycles != 0 {
		t.Errorf("%+v", p)
	}
	for _, want := range []string{
		"It failed about once in 24 h: 72 h without a failure say with 95 % confidence that under the same conditions it fails less often than that; 56 h say it with 90 %; a night of 8 h with 28 % only.",
		"one that comes once in 240 h gets through 72 h without a failure in 74 % of cases",
		"one failure in that time fits anything from once in 4.3 h to once in 947 h (95 %)",
		"constant under the same conditions", "load, covers, room temperature and mains", "not counted as faster time",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is missing in\n%s", want, said)
		}
	}
}

// Once in 3 h takes 9 h, and 29 h when it fails by dips of 50 ms to nothing that
// a meter of 20 ms every 200 ms sees with 0.31.
func TestPlanOfDips(t *testing.T) {
	q := capture.SoakQuestion{Every: 3 * time.Hour, Dip: 50 * ms, Depth: 1, Aperture: 20 * ms, Period: 200 * ms, Warm: 30 * time.Minute}
	p, said := planned(t, q)
	if !near0(p.Dip.Seen, 0.31, 1e-9) || !near0(p.Dip.Clean/3600, 28.99, 0.01) || p.Dip.Sure != 0.188 || p.Planned != p.Dip.Clean+1800 {
		t.Errorf("%+v %+v", p, p.Dip)
	}
	for _, want := range []string{"9 h without a failure", "A single dip of 50 ms, 100 % deep, is seen with chance 0.31 by this meter, which looks for 20 ms every 200 ms: if that is how it fails, it takes 29 h.", "sure to see one of 188 ms or longer", "first 30 min"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is missing in\n%s", want, said)
		}
	}
	q.Aperture, q.Period = 380*ms, 400*ms
	if p, said = planned(t, q); p.Planned != 0 || p.Dip.Clean != 0 || !strings.Contains(said, "never seen by this meter") || !strings.Contains(said, "no soak with it shows") {
		t.Errorf("a handheld: %+v\n%s", p, said)
	}
	q.Dip = 2 * time.Second
	if p, said = planned(t, q); p.Dip.Clean != p.Clean || !strings.Contains(said, "cannot be missed") {
		t.Errorf("a long dip: %+v\n%s", p, said)
	}
	q.Depth = 0.1
	if _, said = planned(t, q); !strings.Contains(said, "sure to see none of that depth") {
		t.Errorf("a shallow dip:\n%s", said)
	}
}

func TestPlanOfCycles(t *testing.T) {
	p, said := planned(t, capture.SoakQuestion{CyclesFailed: 1, Cycles: 20})
	if p.Cycles != 59 || p.Planned != 0 || p.Clean != 0 || !strings.Contains(said, "1 of 20 power cycles: 59 cycles in a row") || !strings.Contains(said, "from 0.13 % to 25 %") || !strings.Contains(said, "10 cycles without a failure a share of up to 26 %, 30 up to 9.5 %") {
		t.Errorf("%+v\n%s", p, said)
	}
	for share, n := range map[float64]int{0.05: 59, 0.01: 299, 0.1: 29, 0.5: 5} {
		if got := coverage.CyclesNeeded(share, 0.95); got != n {
			t.Errorf("share %g: %d cycles, want %d", share, got, n)
		}
	}
	if coverage.CyclesNeeded(0, 0.95) != 0 || coverage.CyclesNeeded(1, 0.95) != 0 {
		t.Error("cycles for what needs none")
	}
}

// What is written as 99.9 % may come out of a division a hair above.
func TestPlanTakesTheGreatestConfidence(t *testing.T) {
	percent := 99.9
	if p, _ := planned(t, capture.SoakQuestion{Every: day, Confidence: percent / 100}); !near0(p.Clean/3600, 24*math.Log(1000), 0.01) {
		t.Errorf("%+v", p)
	}
}

func TestPlanRefuses(t *testing.T) {
	for want, q := range map[string]capture.SoakQuestion{
		"how often did it fail": {}, "every cycle": {CyclesFailed: 5, Cycles: 5}, "none, needs": {Cycles: 5},
		"confidence lies": {Every: day, Confidence: 0.9999}, "confidence lies between": {Every: day, Confidence: math.NaN()}, "depth of a dip": {Every: day, Depth: 2},
		"depends on the meter": {Every: day, Dip: ms}, "looks for longer": {Every: day, Dip: ms, Aperture: 2 * ms, Period: ms}, "negative": {Every: -day},
	} {
		if _, err := coverage.Plan(q); !errors.Is(err, coverage.ErrQuestion) || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", q, err, want)
		}
	}
}

// Clean hours as planned prove exactly the rate that was asked about, and clean
// cycles as planned at least the share, one less not.
func TestPlanIsTheInverseOfTheBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		every := time.Duration(rapid.Int64Range(int64(time.Minute), int64(100*day)).Draw(t, "every"))
		c := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		p, err := coverage.Plan(capture.SoakQuestion{Every: every, Confidence: c})
		if err != nil {
			t.Fatal(err)
		}
		clean := time.Duration(p.Clean * float64(time.Second))
		if rate := coverage.UpperRate(0, clean, c); math.Abs(rate*every.Hours()-1) > 1e-6 {
			t.Fatalf("%s clean prove once in %g h, asked was %s", clean, 1/rate, every)
		}
		share := rapid.Float64Range(0.001, 0.9).Draw(t, "share")
		n := coverage.CyclesNeeded(share, c)
		if coverage.UpperShare(n, c) > share+1e-9 || n > 1 && coverage.UpperShare(n-1, c) <= share {
			t.Fatalf("%d cycles prove %g, asked was %g", n, coverage.UpperShare(n, c), share)
		}
		seen := rapid.Float64Range(0.01, 1).Draw(t, "seen")
		if coverage.SoakNeeded(every, c, seen) < coverage.SoakNeeded(every, c, 1) {
			t.Fatal("a fault that is seen less needs less time")
		}
	})
}

// What is printed as needed is never less than what is.
func TestLongUp(t *testing.T) {
	for d, want := range map[time.Duration]string{
		71*time.Hour + 54*time.Minute: "72 h", 9 * time.Hour: "9 h", 9*time.Hour + time.Second: "9.1 h", 61 * time.Second: "1.1 min", 999*time.Millisecond + 1: "1 s", 0: "0 ms",
	} {
		if got := coverage.LongUp(d); got != want {
			t.Errorf("%s is %q, want %q", d, got, want)
		}
	}
}
