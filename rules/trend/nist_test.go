package trend_test

import (
	"bufio"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"steadyrail/rules/trend"
)

const nist = "../../testdata/reference/nist-strd/"

// digitsRight is the log relative error of NIST StRD: the number of digits
// that agree, at most 15.
func digitsRight(got, certified float64) float64 {
	if got == certified {
		return 15
	}
	return min(15, -math.Log10(math.Abs(got-certified)/math.Abs(certified)))
}

func numbers(t testing.TB, name string) (out []float64) {
	t.Helper()
	f, err := os.Open(nist + "univ_" + name + ".csv")
	if os.IsNotExist(err) {
		return piDigits(t)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Scan() // head
	for lines.Scan() {
		v, err := strconv.ParseFloat(lines.Text(), 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

func piDigits(t testing.TB) (out []float64) {
	raw, err := os.ReadFile(nist + "univ_PiDigits.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range string(raw) {
		if c >= '0' && c <= '9' {
			out = append(out, float64(c-'0'))
		}
	}
	return out
}

func table(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open(nist + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

// reachable says how many digits float64 allows, where that is fewer than 13:
// 10000000.2 is off by 7e-10 before anybody computes, which is 1e-8 of the
// standard deviation 0.1.
var reachable = map[string]float64{"NumAcc3": 9, "NumAcc4": 8}

// All nine univariate sets of NIST StRD, mean, standard deviation and lag-1
// autocorrelation, in one pass.
func TestMomentsAgainstNIST(t *testing.T) {
	rows := table(t, "univariate_certified.csv")
	if len(rows) != 9 {
		t.Fatalf("%d sets, want 9", len(rows))
	}
	for _, row := range rows {
		name := row[0]
		var m trend.Moments
		for _, v := range numbers(t, name) {
			m.Add(v)
		}
		if strconv.Itoa(m.N()) != row[1] {
			t.Errorf("%s: %d values, want %s", name, m.N(), row[1])
		}
		certified := func(i int) float64 { v, _ := strconv.ParseFloat(row[i], 64); return v }
		mean, sd, lag := digitsRight(m.Mean(), certified(2)), digitsRight(m.SD(), certified(3)), digitsRight(m.Lag1(), certified(4))
		t.Logf("%-9s digits right: mean %4.1f, sd %4.1f, lag-1 %4.1f", name, mean, sd, lag)
		need := 13.0
		if r, ok := reachable[name]; ok {
			need = r
		}
		if mean < 13 || sd < need || lag < min(need, 12) {
			t.Errorf("%s: digits right: mean %.1f, sd %.1f, lag-1 %.1f, want 13, %g, %g", name, mean, sd, lag, need, min(need, 12))
		}
	}
}

// The shortcut that NumAcc4 is made to catch, so that the check above can be
// seen to fail: sum of squares less square of sum.
func TestNumAcc4CatchesTheShortcut(t *testing.T) {
	var sum, squares float64
	values := numbers(t, "NumAcc4")
	for _, v := range values {
		sum += v
		squares += v * v
	}
	n := float64(len(values))
	sd := math.Sqrt(max(0, (squares-sum*sum/n)/(n-1)))
	if d := digitsRight(sd, 0.1); d > 3 {
		t.Errorf("the shortcut reached %.1f digits", d)
	}
}

// NIST StRD, Norris.
func TestFitLineAgainstNorris(t *testing.T) {
	var x, y []float64
	for _, row := range table(t, "linear_Norris.csv") {
		vy, _ := strconv.ParseFloat(strings.TrimSpace(row[0]), 64)
		vx, _ := strconv.ParseFloat(strings.TrimSpace(row[1]), 64)
		x, y = append(x, vx), append(y, vy)
	}
	l, ok := trend.FitLine(x, y)
	if !ok || l.N != 36 {
		t.Fatalf("%d points, %v", l.N, ok)
	}
	got := map[string]float64{"b0": l.Intercept, "sd_b0": l.SDAtZero, "b1": l.Slope, "sd_b1": l.SDSlope, "residual_ms": l.Residual * l.Residual}
	for _, row := range table(t, "norris_certified.csv") {
		want, _ := strconv.ParseFloat(row[1], 64)
		d := digitsRight(got[row[0]], want)
		t.Logf("%s: %.1f digits right", row[0], d)
		if d < 12 {
			t.Errorf("%s is %.15g, certified %.15g: %.1f digits right", row[0], got[row[0]], want, d)
		}
	}
}

// naiveMoments is the textbook in two passes, the baseline of the benchmark.
func naiveMoments(values []float64) (mean, sd float64) {
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	for _, v := range values {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / float64(len(values)-1))
}

var sink float64

// One pass with the lag against two passes without: per reading.
func BenchmarkMoments(b *testing.B) {
	values := numbers(b, "PiDigits")
	b.Run("baseline=two-pass", func(b *testing.B) {
		for b.Loop() {
			_, sink = naiveMoments(values)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(values)), "ns/reading")
	})
	b.Run("running", func(b *testing.B) {
		for b.Loop() {
			var m trend.Moments
			for _, v := range values {
				m.Add(v)
			}
			sink = m.SD() + m.Lag1()
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(values)), "ns/reading")
	})
}
