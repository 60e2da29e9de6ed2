package standin

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
)

const power = "../../testdata/reference/power/"

func load(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(power + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatal(err)
	}
}

func near(t *testing.T, what string, got, want, part float64) {
	t.Helper()
	if math.Abs(got-want) > part*math.Abs(want) {
		t.Errorf("%s: got %g, want %g", what, got, want)
	}
}

// published is what converters_and_regulators.json holds.
type published struct {
	Stage struct {
		Cases []struct {
			In struct {
				InMax float64 `json:"Vin_max"`
				Out   float64 `json:"Vout"`
				Eta   float64 `json:"eta"`
				F     float64 `json:"f_s"`
				L     float64 `json:"L_uH"`
				I     float64 `json:"I_out"`
				VF    float64 `json:"V_F"`
			} `json:"in"`
			Out struct {
				D      float64 `json:"D"`
				Ripple float64 `json:"ripple_A"`
				Peak   float64 `json:"I_sw_max"`
				Diode  float64 `json:"I_F_avg"`
			} `json:"out"`
		} `json:"computed_cases"`
	} `json:"buck_power_stage"`
	Buck struct {
		Examples []struct {
			Part string  `json:"part"`
			Form string  `json:"form"`
			In   float64 `json:"V_in_max"`
			Out  float64 `json:"V_out"`
			I    float64 `json:"I_out"`
			F    float64 `json:"f_sw"`
			L    float64 `json:"L_chosen_uH"`
			Pub  struct {
				Ripple float64 `json:"ripple_A"`
				Peak   float64 `json:"I_peak"`
			} `json:"published"`
		} `json:"examples"`
	} `json:"datasheet_buck_examples"`
	Table struct {
		Divider struct {
			Ref  float64      `json:"V_ref"`
			Rows [][3]float64 `json:"rows"`
		} `json:"divider_table"`
	} `json:"mc34063"`
	Loss struct {
		Worked struct {
			In    float64 `json:"V_in"`
			Out   float64 `json:"V_out"`
			I     float64 `json:"I_out"`
			Q     float64 `json:"I_q"`
			Ta    float64 `json:"T_a"`
			Most  float64 `json:"Tj_max"`
			P     float64 `json:"P_published"`
			Theta float64 `json:"RthJA_max_published"`
		} `json:"worked_example"`
		Second struct {
			In    float64 `json:"V_in"`
			Out   float64 `json:"V_out"`
			I     float64 `json:"I_out"`
			Ta    float64 `json:"T_a"`
			Theta float64 `json:"Rth"`
			P     float64 `json:"P"`
			Tj    float64 `json:"T_j"`
		} `json:"second_example"`
	} `json:"linear_regulator_dissipation"`
	Chain struct {
		Examples []struct {
			P  float64   `json:"P"`
			Th []float64 `json:"th"`
			Ta float64   `json:"Ta"`
			Tj float64   `json:"Tj"`
		} `json:"examples"`
	} `json:"thermal_chain"`
}

// The equations of TI SLVA477B; the cases were computed from them elsewhere, for
// the report prints none.
func TestStageAfterItsEquations(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	if len(ref.Stage.Cases) == 0 {
		t.Fatal("no cases were read")
	}
	for _, c := range ref.Stage.Cases {
		s := StepDownStage(c.In.InMax, c.In.Out, c.In.Eta, c.In.F, c.In.L*1e-6, c.In.I)
		near(t, "duty", s.Duty, c.Out.D, 1e-5)
		near(t, "swing", s.Swing, c.Out.Ripple, 1e-5)
		near(t, "peak", s.Peak, c.Out.Peak, 1e-5)
		near(t, "diode", s.DiodeMean, c.Out.Diode, 1e-5)
	}
}

// Published worked examples of five data sheets; two take the frequency at its
// low end, 0.8 f. None counts losses, so the efficiency is 1.
func TestStageAsDataSheetsWorkItOut(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	if len(ref.Buck.Examples) < 5 {
		t.Fatal("examples are missing")
	}
	for _, c := range ref.Buck.Examples {
		f := c.F
		if c.Form != "plain" {
			f *= 0.8
		}
		s := StepDownStage(c.In, c.Out, 1, f, c.L*1e-6, c.I)
		near(t, c.Part+" peak", s.Peak, c.Pub.Peak, 0.0015) // they print three figures
		if c.Pub.Ripple > 0 {
			near(t, c.Part+" swing", s.Swing, c.Pub.Ripple, 0.001)
		}
	}
}

// The feedback form, against a public table of a 1.25 V reference.
func TestDividerAgainstATable(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	for _, row := range ref.Table.Divider.Rows {
		d := Divider{Reference: Figure{Value: ref.Table.Divider.Ref}}
		near(t, "output", d.Set(row[0], row[1]), row[2], 1e-9)
	}
}

// The floating form with its bias current, against the makers' equation.
func TestDividerWithBiasCurrent(t *testing.T) {
	f, err := os.Open(power + "lm317_r2_for_vout.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatal(err, len(rows))
	}
	for _, row := range rows[1:] {
		var v [4]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		d := Divider{Reference: Figure{Value: 1.25}}
		near(t, row[0]+" V without bias", d.Set(v[1], v[2]), v[0], 1e-6)
		d.Bias = Figure{Value: 50e-6}
		near(t, row[0]+" V with bias", d.Set(v[1], v[3]), v[0], 1e-6)
	}
}

// Two worked examples of regulators' data sheets and the chain of resistances.
func TestHeatAgainstWorkedExamples(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	w, s := ref.Loss.Worked, ref.Loss.Second
	p := LinearLoss(w.In, w.Out, w.I, w.Q)
	near(t, "loss", p, w.P, 1e-9)
	near(t, "highest resistance", (w.Most-w.Ta)/p, w.Theta, 0.001)
	p = LinearLoss(s.In, s.Out, s.I, 0)
	near(t, "loss", p, s.P, 1e-9)
	near(t, "junction", Hot(s.Ta, p, s.Theta), s.Tj, 1e-5)
	if len(ref.Chain.Examples) == 0 {
		t.Fatal("no chain was read")
	}
	for _, c := range ref.Chain.Examples {
		var sum float64
		for _, th := range c.Th {
			sum += th
		}
		near(t, "junction of a chain", Hot(c.Ta, c.P, sum), c.Tj, 1e-9)
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
