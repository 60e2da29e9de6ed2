package trend_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"steadyrail/rules/trend"
)

// reference reads a table of published values without its head.
func reference(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
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

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// suites are the two sets of frequency data of NIST SP 1065, section 12.
func suites(t testing.TB) map[string][]float64 {
	var file struct {
		Nine []float64 `json:"nbs-9-frequency-values"`
		LCG  struct {
			Factor, Modulus int
			First           []int
			Mean, SD        float64
		}
	}
	fromJSON(t, "allan/datasets.json", &file)
	out := map[string][]float64{"nbs-9-frequency-values": file.Nine}
	for i, n := 0, file.LCG.First[0]; i < 4; i, n = i+1, n*file.LCG.Factor%file.LCG.Modulus {
		if got := reference(t, "allan/lcg_1000.csv")[i][1]; got != strconv.Itoa(n) || n != file.LCG.First[i] {
			t.Errorf("value %d of the second set is %s, its recurrence gives %d", i, got, n)
		}
	}
	for _, row := range reference(t, "allan/lcg_1000.csv") {
		out["lcg-1000-frequency-values"] = append(out["lcg-1000-frequency-values"], number(t, row[1])/float64(file.LCG.Modulus))
	}
	if mean, sd := stat.MeanStdDev(out["lcg-1000-frequency-values"], nil); math.Abs(mean-file.LCG.Mean) > 1e-14 || math.Abs(sd-file.LCG.SD) > 1e-14 {
		t.Errorf("the second set has mean %v and deviation %v", mean, sd)
	}
	return out
}

// fromJSON reads a file of published values.
func fromJSON(t testing.TB, name string, into any) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// Every published value to all of its seven digits. The book prints 70.80608 for one Hadamard deviation
// of nine values and 70.80607 for the overlapping one, which is the same sum.
func TestStabilityAgainstPublishedValues(t *testing.T) {
	data, checked := suites(t), 0
	for _, row := range reference(t, "allan/published_deviations.csv") {
		name, factor := row[1], int(number(t, row[2]))
		values := data[row[0]]
		s, ok := trend.StabilityOf(values, factor)
		got, known := map[string]float64{
			"ADEV": s.Allan, "OADEV": s.Overlapping, "MDEV": s.Modified, "HDEV": s.Hadamard,
			"OHDEV": s.OverlappingHadamard, "TOTDEV": s.Total, "TDEV": s.Modified * float64(factor) / math.Sqrt(3), "STD_of_averages": stat.StdDev(averages(values, factor), nil),
		}[name]
		if !known {
			continue
		}
		checked++
		want := number(t, row[3])
		// Half of the last of seven digits, or one and a half for the misprints.
		unit := math.Pow(10, math.Floor(math.Log10(want))-6)
		if !ok || math.Abs(got-want) > 1.5*unit {
			t.Errorf("%s, %s of %d: %.8g, published %.7g", row[0], name, factor, got, want)
		}
		if row[4] == "" {
			continue // not computed elsewhere
		}
		if again := number(t, row[4]); math.Abs(got-again) > 0.51*unit {
			t.Errorf("%s, %s of %d: %.8g, computed elsewhere %.7g", row[0], name, factor, got, again)
		}
	}
	if checked != 38 {
		t.Errorf("%d values checked, want 38", checked)
	}
}

func averages(values []float64, factor int) (out []float64) {
	for i := 0; i+factor <= len(values); i += factor {
		out = append(out, stat.Mean(values[i:i+factor], nil))
	}
	return out
}

// By the definition, from averages: half the mean square of neighbours'
// differences.
func TestAllanAgreesWithTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-1, 1), 8, 60).Draw(t, "values")
		factor := rapid.IntRange(1, len(values)/2).Draw(t, "factor")
		shift, scale := rapid.Float64Range(-12, 12).Draw(t, "shift"), rapid.Float64Range(0.1, 10).Draw(t, "scale")
		s, _ := trend.StabilityOf(values, factor)
		means := averages(values, factor)
		var sum float64
		for i := 1; i < len(means); i++ {
			sum += (means[i] - means[i-1]) * (means[i] - means[i-1])
		}
		if want := math.Sqrt(sum / 2 / float64(len(means)-1)); math.Abs(s.Allan-want) > 1e-9 {
			t.Fatalf("%g, want %g", s.Allan, want)
		}
		for i := range values {
			values[i] = values[i]*scale + shift
		}
		m, _ := trend.StabilityOf(values, factor)
		for _, pair := range [][2]float64{{m.Allan, s.Allan}, {m.Overlapping, s.Overlapping}, {m.Modified, s.Modified}, {m.Hadamard, s.Hadamard}, {m.OverlappingHadamard, s.OverlappingHadamard}, {m.Total, s.Total}} {
			if math.Abs(pair[0]-scale*pair[1]) > 1e-9 {
				t.Fatalf("shifted and scaled: %+v, before %+v", m, s)
			}
		}
	})
}

// A steady drift shows in the Allan deviation as slope·τ/√2, and not at all in
// Hadamard's.
func TestHadamardDoesNotSeeADrift(t *testing.T) {
	var values []float64
	for i := range 200 {
		values = append(values, 5+1e-3*float64(i))
	}
	sweep := trend.StabilitySweep(values)
	if len(sweep) != 7 { // 1 to 64
		t.Fatalf("%d factors", len(sweep))
	}
	for _, s := range sweep {
		want := 1e-3 * float64(s.Factor) / math.Sqrt2
		if math.Abs(s.Allan/want-1) > 1e-9 || math.Abs(s.Overlapping/want-1) > 1e-9 || s.OverlappingHadamard > 1e-12 || s.Hadamard > 1e-12 {
			t.Errorf("%+v, want an Allan deviation of %g", s, want)
		}
	}
	if _, ok := trend.StabilityOf(values, 101); ok {
		t.Error("two means of 101 out of 200")
	}
	if _, ok := trend.StabilityOf(values, 0); ok {
		t.Error("means of nothing")
	}
}

func BenchmarkStabilitySweep(b *testing.B) {
	values := suites(b)["lcg-1000-frequency-values"]
	for b.Loop() {
		sink = trend.StabilitySweep(values)[3].Modified
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(values)), "ns/reading")
}
