package trend_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// The worked test of Mann and Kendall, without its data, which are not ours to
// hand on: n, S and the six equal pairs fix variance, Z, p and tau. So a rising
// series with such pairs is turned about, neighbour by neighbour, until its S is
// the published one.
func TestMannKendallAsPublished(t *testing.T) {
	file := changes(t).Kendall
	want := file.Result
	if want.N != 87 || file.Tied != 6 {
		t.Fatalf("%+v", file)
	}
	y := make([]float64, want.N)
	for i := range y {
		y[i] = float64(i)
	}
	for k := range file.Tied {
		y[10*k+1] = y[10*k]
	}
	for trend.MannKendall(y).S > want.S {
		turn(y, int(trend.MannKendall(y).S-want.S)/2)
	}
	k := trend.MannKendall(y)
	if k.S != want.S || math.Abs(k.SD*k.SD-want.Var) > 1e-4 || math.Abs(k.Z-want.Z) > 1e-6 || math.Abs(k.P/want.P-1) > 1e-5 || math.Abs(k.TauB-want.Tau) > 1e-7 {
		t.Errorf("got %+v with variance %g, want %+v", k, k.SD*k.SD, want)
	}
}

// turn swaps neighbours that rise, once through the series and no more than so many:
// each takes two from S.
func turn(y []float64, most int) {
	for i := 1; i < len(y) && most > 0; i++ {
		if y[i-1] < y[i] {
			y[i-1], y[i] = y[i], y[i-1]
			most--
		}
	}
}

// law is that of the worked three points, which lie a time constant's share apart.
func law(end, start, tau float64) (x, y []float64) {
	for i := range 7 {
		at := float64(i)
		x, y = append(x, at), append(y, end-(end-start)*math.Exp(-at/tau))
	}
	return x, y
}

// The end and the time constant of three worked points, a unit of time apart, of
// which ours takes five at least: the same law through more of them.
func TestExponentialFindsTheWorkedEnd(t *testing.T) {
	e := changes(t).Settling.Three.Example
	if end := (e.T1*e.T3 - e.T2*e.T2) / (e.T1 + e.T3 - 2*e.T2); math.Abs(end-e.End) > 1e-9 {
		t.Fatalf("the file's end is %g, its form gives %g", e.End, end)
	}
	x, y := law(e.End, e.T1, e.Tau)
	if math.Abs(y[1]-e.T2) > 1e-5 || math.Abs(y[2]-e.T3) > 1e-5 {
		t.Fatalf("the law does not go through the points: %v", y[:3])
	}
	f, ok := trend.FitExponential(x, y)
	if !ok || math.Abs(f.Level-e.End) > 1e-6 || math.Abs(f.Tau-e.Tau) > 1e-6 {
		t.Errorf("fitted %v: level %g, time constant %g; want %g and %g", ok, f.Level, f.Tau, e.End, e.Tau)
	}
}

// After the published number of time constants the published part is left.
func TestWhatIsLeftAfterSoManyTimeConstants(t *testing.T) {
	cases := changes(t).Settling.Cases
	if len(cases) != 4 {
		t.Fatalf("%d cases", len(cases))
	}
	x, y := law(85, 20, 2)
	f, ok := trend.FitExponential(x, y)
	if !ok {
		t.Fatal("no law was found")
	}
	for _, c := range cases {
		if left := (f.Level - f.At(c.Taus*f.Tau)) / 65; math.Abs(left/c.F-1) > 1e-5 {
			t.Errorf("after %g time constants %g is left, want %g", c.Taus, left, c.F)
		}
	}
}

// What three points in equal steps foretell is what the fit does, for any law.
func TestExponentialAgreesWithThreePoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		end, start := rapid.Float64Range(30, 90).Draw(t, "end"), rapid.Float64Range(0, 29).Draw(t, "start")
		x, y := law(end, start, rapid.Float64Range(1, 6).Draw(t, "tau"))
		f, ok := trend.FitExponential(x, y)
		three := (y[0]*y[6] - y[3]*y[3]) / (y[0] + y[6] - 2*y[3])
		if !ok || math.Abs(f.Level-three) > 1e-6*end {
			t.Fatalf("fitted %v %g, by three points %g", ok, f.Level, three)
		}
	})
}
