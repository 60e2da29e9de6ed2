package uncertainty_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/rules/uncertainty"
)

// The factors of the verdicts against table G.2, and the table against gonum.
func TestStudentAsTableG2(t *testing.T) {
	f, err := os.Open("../../testdata/reference/uncertainty/t_factors_gum_table_G2.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 28 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		degrees, err := strconv.ParseFloat(row[0], 64) // "inf" too
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range []float64{0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973} {
			want, _ := strconv.ParseFloat(row[i+1], 64)
			if !math.IsInf(degrees, 1) {
				near(t, row[0]+" degrees", student(p, degrees), want, 1.5e-4)
			}
			if p == 0.9545 {
				near(t, "factor for "+row[0], uncertainty.CoverageFactor(degrees), want, 0.0051)
			}
		}
	}
	for _, degrees := range []float64{1, 2.9, 19, 20, 33.3, 150, 1e6} {
		near(t, "factor beside gonum's", uncertainty.CoverageFactor(degrees), student(0.9544997, degrees), 0.0051)
	}
}

func TestCoverageFactorNeverGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(0, 300).Draw(t, "a"), rapid.Float64Range(0, 300).Draw(t, "b")
		if k, l := uncertainty.CoverageFactor(min(a, b)), uncertainty.CoverageFactor(max(a, b)); k < l || l < 2 {
			t.Fatalf("%g degrees %g, %g degrees %g", min(a, b), k, max(a, b), l)
		}
	})
}
