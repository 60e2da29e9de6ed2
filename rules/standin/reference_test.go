package standin

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
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

// The worked load regulation, and that a capture of a load step between the same
// two levels says it.
func TestLoadRegulationAsWorked(t *testing.T) {
	var ref published
	load(t, "converters_and_regulators.json", &ref)
	checked := 0
	for _, c := range ref.Regulation.Examples {
		if c.Full == 0 { // of the line: nothing here steps its input between two captures
			continue
		}
		checked++
		near(t, "load regulation", LoadRegulation(c.Light, c.Full), c.Load, 1e-6)
		for _, sign := range []float64{1, -1} { // the load comes, and goes
			n, from, to := logic(), c.Light, c.Full
			if sign < 0 {
				from, to = to, from
			}
			said := stepSays(t, n, from, to)
			if want := "Between these two loads it regulates to 0.8 %."; !strings.Contains(said, want) {
				t.Errorf("from %g V to %g V: %q lacks %q", from, to, said, want)
			}
		}
	}
	if checked != 1 {
		t.Errorf("%d examples", checked)
	}
	for _, c := range [][2]float64{{5.0005, 5}, {2, 5}} { // in its doubt; not up before
		if said := stepSays(t, logic(), c[0], c[1]); strings.Contains(said, "regulates") {
			t.Errorf("from %g V to %g V: %s", c[0], c[1], said)
		}
	}
}

func stepSays(t *testing.T, n Need, from, to float64) string {
	t.Helper()
	var s Scope
	err := s.Add(n.Rail, ShowsStep, "step.csv", trace(func(at float64) float64 {
		if at < 0 {
			return from
		}
		return to + 0.4*(from-to)*math.Exp(-at/0.3e-3)
	}))
	if err != nil {
		t.Fatal(err)
	}
	return word(Judge(n, module(), s), "load step").Say
}
