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

const folder = "../../testdata/reference/power/"

func load(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(folder + name)
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
				Loss   float64 `json:"P_D"`
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
				RMS    float64 `json:"I_rms"`
				LMin   float64 `json:"L_min_uH"`
			} `json:"published"`
			K float64 `json:"K_ind"`
		} `json:"examples"`
	} `json:"datasheet_buck_examples"`
	Simple struct {
		Examples []struct {
			Out  float64 `json:"Vout"`
			In   float64 `json:"Vin_max"`
			R1   float64
			R2   float64 `json:"R2_published"`
			Near float64 `json:"nearest_1_percent"`
			ET   float64 `json:"ET_published"`
		} `json:"examples"`
	} `json:"lm2576_lm2575"`
	Table struct {
		Divider struct {
			Ref  float64      `json:"V_ref"`
			Rows [][3]float64 `json:"rows"`
		} `json:"divider_table"`
		StepDown struct {
			In struct {
				Min    float64 `json:"Vin_min"`
				Sat    float64 `json:"Vsat"`
				VF     float64 `json:"VF"`
				Out    float64 `json:"Vout"`
				I      float64 `json:"Iout"`
				F      float64 `json:"f_min"`
				Ripple float64 `json:"V_ripple_pp"`
			} `json:"inputs"`
			Out struct {
				Ratio float64 `json:"ton_over_toff"`
				On    float64 `json:"ton_us"`
				Off   float64 `json:"toff_us"`
				Peak  float64 `json:"I_pk_mA"`
				L     float64 `json:"L_min_uH"`
				C     float64 `json:"Co_uF"`
			} `json:"recomputed"`
		} `json:"an920_step_down_example"`
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
			Tc float64   `json:"Tc"`
			To float64   `json:"th_sa_max_for_125C"`
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
		s := Power{In: c.In.InMax, Out: c.In.Out, Load: c.In.I, Efficiency: c.In.Eta, Frequency: c.In.F, Inductance: c.In.L * 1e-6}.Stage(StepDown)
		near(t, "duty", s.Duty, c.Out.D, 1e-5)
		near(t, "swing", s.Swing, c.Out.Ripple, 1e-5)
		near(t, "peak", s.Peak, c.Out.Peak, 1e-5)
		near(t, "diode", s.Diode, c.Out.Diode, 1e-5)
		near(t, "heat of the diode", s.Diode*c.In.VF, c.Out.Loss, 1e-5)
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
		s := Power{In: c.In, Out: c.Out, Load: c.I, Efficiency: 1, Frequency: f, Inductance: c.L * 1e-6}.Stage(StepDown)
		near(t, c.Part+" RMS of the inductor", math.Sqrt(c.I*c.I+s.Swing*s.Swing/12), c.Pub.RMS, 0.0015)
		least := Power{In: c.In, Out: c.Out, Load: c.I, Efficiency: 1, Frequency: c.F, Inductance: c.Pub.LMin * 1e-6}.Stage(StepDown)
		near(t, c.Part+" swing of the least inductance", least.Swing, c.K*c.I, 0.01)
		near(t, c.Part+" peak", s.Peak, c.Pub.Peak, 0.0015) // they print three figures
		if c.Pub.Ripple > 0 {
			near(t, c.Part+" swing", s.Swing, c.Pub.Ripple, 0.001)
		}
	}
}

// The worked step-down example of AN920 (from memory, recomputed there): drops of
// switch and diode counted, its inductor's current just reaches zero.
func TestStageWithDropsAsAN920(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	in, want := ref.Table.StepDown.In, ref.Table.StepDown.Out
	s := Power{In: in.Min, Out: in.Out, Load: in.I, Frequency: in.F, Inductance: want.L * 1e-6, Switch: in.Sat, Diode: in.VF, Drops: true}.Stage(StepDown)
	near(t, "on to off", s.Duty/(1-s.Duty), want.Ratio, 1e-5)
	near(t, "on", s.Duty/in.F*1e6, want.On, 1e-5)
	near(t, "off", (1-s.Duty)/in.F*1e6, want.Off, 1e-5)
	near(t, "peak", s.Peak*1e3, want.Peak, 1e-5)
	near(t, "ripple", Ripple(s.Swing, 0, in.F, want.C*1e-6), in.Ripple, 1e-5)
}

// Its formulas for stepping up and inverting: on to off is (Vout+VF−Vin)/(Vin−Vsat)
// and (|Vout|+VF)/(Vin−Vsat), the peak twice the load times that ratio and one.
func TestStepUpAndInvertingStages(t *testing.T) {
	for _, c := range []struct {
		t       Topology
		in, out float64
		ratio   float64
	}{
		{StepUp, 5, 12, (12 + 0.5 - 5) / (5 - 0.3)},
		{Inverting, 5, 12, (12 + 0.5) / (5 - 0.3)},
		{StepUp, 9, 24, (24 + 0.5 - 9) / (9 - 0.3)},
	} {
		p := Power{In: c.in, Out: c.out, Load: 0.1, Frequency: 50e3, Switch: 0.3, Diode: 0.5, Drops: true}
		d := p.Duty(c.t)
		near(t, "on to off", d/(1-d), c.ratio, 1e-12)
		peak := 2 * p.Load * (c.ratio + 1)
		p.Inductance = (c.in - 0.3) / peak * d / p.Frequency // its least: the swing is the peak
		near(t, "peak", p.Stage(c.t).Peak, peak, 1e-12)
		near(t, "diode", p.Stage(c.t).Diode, p.Load, 1e-12) // all that the load gets goes through it
	}
}

// Worked dividers and volt-microseconds of the data sheets, 52 kHz, 1.23 V, and the
// preferred value that they take.
func TestDividersAsDataSheetsWorkThemOut(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	if len(ref.Simple.Examples) < 3 {
		t.Fatal("examples are missing")
	}
	for _, c := range ref.Simple.Examples {
		d := Divider{Reference: Figure{Value: 1.23}, Held: Figure{Value: c.R1}}
		if c.R2 > 0 {
			near(t, "R2", d.Wanted(c.Out), c.R2, 0.0005)
		}
		if c.Near > 0 {
			near(t, "nearest", Nearest(d.Wanted(c.Out), E96, Closest), c.Near, 1e-12)
		}
		if c.ET > 0 {
			s := Power{In: c.In, Out: c.Out, Load: 1, Efficiency: 1, Frequency: 52e3, Inductance: 100e-6}.Stage(StepDown)
			near(t, "volts times microseconds", s.Swing*100, c.ET, 0.006)
		}
	}
}

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
	f, err := os.Open(folder + "lm317_r2_for_vout.csv")
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
	near(t, "highest resistance", PerWattMost(w.Most, w.Ta, p), w.Theta, 0.001)
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
		if c.Tc > 0 {
			near(t, "case of a chain", Hot(c.Ta, c.P, sum-c.Th[0]), c.Tc, 1e-9)
			top, _ := Junction(Figure{Value: c.Tc}, Figure{Value: c.P}, Figure{Value: c.Th[0]})
			near(t, "junction from its case", top, c.Tj, 1e-9)
		}
		if c.To > 0 {
			near(t, "heat sink for 125 degC", PerWattMost(125, c.Ta, c.P)-c.Th[0]-c.Th[1], c.To, 1e-5)
		}
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
