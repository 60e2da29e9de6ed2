package comparison

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"steadyrail/rules/trend"
)

// measured are series that somebody measured, with the ties of their digits and the
// correlation of their instruments: sets of the NIST Statistical Reference Datasets.
// Slope and interval of Theil and Sen, and the test of Mann and Kendall.
func measured(t *testing.T) (out []compared) {
	t.Helper()
	for _, name := range []string{"Michelso", "Mavro", "Lottery"} {
		y := series(t, name)
		x := make([]float64, len(y))
		for i := range x {
			x[i] = float64(i)
		}
		slope, low, high, _ := trend.TheilSen(x, y)
		k := trend.MannKendallCorrelated(y)
		out = append(out,
			compared{"theil_sen", []any{x, y, 0.95}, []float64{slope, low, high}, 1e-9},
			compared{"hamed_rao", []any{y}, []float64{k.S, k.TauB, k.SD, k.Z, k.P}, 1e-9})
	}
	return out
}

func series(t *testing.T, name string) (y []float64) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "reference", "nist-strd", "univ_"+name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Fields(string(text))[1:] {
		v, err := strconv.ParseFloat(line, 64)
		if err != nil {
			t.Fatal(err)
		}
		y = append(y, v)
	}
	if len(y) < 20 {
		t.Fatalf("%s has %d values", name, len(y))
	}
	return y
}
