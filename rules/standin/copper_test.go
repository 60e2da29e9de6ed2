package standin

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"testing"
)

// Wires after ASTM B258 and tracks; warm copper.
func TestCopper(t *testing.T) {
	f, err := os.Open(folder + "awg_copper.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 20 {
		t.Fatal(err, len(rows))
	}
	for _, row := range rows[1:] {
		gauge, _ := strconv.ParseFloat(row[0], 64)
		printed, _ := strconv.ParseFloat(row[3], 64) // ohm per 1000 ft at 20 degC
		near(t, "gauge "+row[0], WireOhm(gauge, 304.8), printed, 0.0006)
	}
	var ref struct {
		Copper struct {
			Examples []struct {
				R    float64 `json:"R_20C"`
				T    float64
				Want float64 `json:"R_linear"`
			}
		}
		Trace struct {
			Examples []struct {
				L, W, H, R float64
			}
		}
	}
	load(t, "copper.json", &ref)
	if len(ref.Copper.Examples) == 0 || len(ref.Trace.Examples) == 0 {
		t.Fatal("no examples")
	}
	for _, c := range ref.Copper.Examples {
		near(t, "warm copper", Warmed(c.R, c.T), c.Want, 1e-4)
	}
	for _, c := range ref.Trace.Examples {
		near(t, "track", 1e3*TrackOhm(c.L/1e3, c.W/1e3, c.H/1e6), c.R, 1e-9)
	}
}

// IEC 60063, and the nearest values that worked examples come to.
func TestPreferredNumbers(t *testing.T) {
	var ref struct {
		Series  map[string][]float64
		Nearest []map[string]any `json:"nearest_examples"`
	}
	load(t, "preferred_numbers.json", &ref)
	series := map[string]Series{"E3": E3, "E6": E6, "E12": E12, "E24": E24, "E48": E48, "E96": E96}
	for name, s := range series {
		if !slices.Equal(s.Values(), ref.Series[name]) {
			t.Errorf("%s: got %v, want %v", name, s.Values(), ref.Series[name])
		}
	}
	for _, c := range ref.Nearest {
		for name, s := range series {
			if want, any := c[name]; any {
				near(t, name, Nearest(c["target"].(float64), s, Closest), want.(float64), 1e-12)
			}
		}
	}
}

// The figures of a worked chain of thought, computed apart from the code.
func TestFiguresThatStandElsewhere(t *testing.T) {
	near(t, "limiter at 12 V and 10 W", LimiterOhm(12, 10), 3.6, 1e-12)
	near(t, "limiter at 325 V and 50 W", LimiterOhm(325, 50), 528, 0.001)
	near(t, "2200 uF to 5 V in 5 ms", Charging(2200e-6, 5, 5e-3), 2.2, 1e-12)
	near(t, "half the load at half the duty", InputRMS(3, 0.5), 1.5, 1e-12)
	_, u := Junction(Figure{Value: 70, U: 4}, Figure{Value: 2, U: 0.6}, Figure{Value: 5, U: 4})
	near(t, "doubt of a junction", u, 9.4, 0.005) // 2·4.7 K from 2 K, 5 ± 2 K/W and 2.0 ± 0.3 W
}
