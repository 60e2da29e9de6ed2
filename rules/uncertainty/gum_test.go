package uncertainty_test

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"steadyrail/rules/uncertainty"
)

// annexH is testdata/reference/uncertainty/gum_annex_h.json: JCGM 100:2008,
// examples H.1 to H.3 and G.4.1.
type annexH struct {
	H1 struct {
		Budget map[string]float64 `json:"budget_nm"`
	} `json:"H1_end_gauge"`
	H2 struct {
		V      []float64          `json:"V_volt"`
		I      []float64          `json:"I_mA"`
		Phi    []float64          `json:"phi_rad"`
		Means  map[string]float64 `json:"means"`
		U      map[string]float64 `json:"u_of_mean"`
		R      map[string]float64 `json:"r"`
		First  map[string]float64 `json:"approach_1_recomputed"`
		Second map[string]float64 `json:"approach_2_recomputed_from_per_set_values"`
		Print  map[string]float64 `json:"approach_1_published"`
	} `json:"H2_impedance"`
	H3 struct {
		T    []float64          `json:"t_degC"`
		B    []float64          `json:"b_degC"`
		Want map[string]float64 `json:"recomputed"`
	} `json:"H3_thermometer_line"`
}

func annex(t *testing.T) (a annexH) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/reference/uncertainty/gum_annex_h.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &a); err != nil {
		t.Fatal(err)
	}
	return a
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.10g, want %.10g within %g", what, got, want, within)
	}
}

// H.1, end gauge: u = 32 nm, effective degrees of freedom 16.7, truncated to
// 16, U99 = 93 nm. From the figures as rounded in print they come to 17.5.
func TestEndGaugeH1(t *testing.T) {
	c := func(name string, value, degrees float64) uncertainty.Component {
		return uncertainty.Component{Name: name, Value: value, Sensitivity: 1, Degrees: degrees}
	}
	rect := func(name string, half, sensitivity, degrees float64) uncertainty.Component {
		return uncertainty.Component{Name: name, Value: half, Sensitivity: sensitivity, Degrees: degrees, Distribution: uncertainty.Rectangular}
	}
	const length = 50_000_623
	// The comparator's three parts are one input of the model, with 25.6 degrees
	// of its own; split, they give the same sum.
	d, err := uncertainty.Budget{Components: []uncertainty.Component{c("mean of 5", 5.8, 24), c("random", 3.9, 5), c("systematic", 6.7, 8)}}.Combine()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u(d)", d.Standard, 9.7, 0.05)
	near(t, "degrees of d", d.Degrees, 25.6, 0.2) // printed from the rounded 9.7
	b := uncertainty.Budget{Components: []uncertainty.Component{
		c("standard", 25, 18), c("difference", d.Standard, d.Degrees),
		rect("alpha of the standard", 2e-6, 0, 0), rect("difference of alpha", 1e-6, 0.1*length, 50),
		rect("difference of temperature", 0.05, 11.5e-6*length, 2), c("temperature", 0, 0),
		{Name: "its cycle", Value: 0.5, Distribution: uncertainty.Arcsine},
	}}
	got, err := b.Combine()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u", got.Standard, 31.6639, 0.01)
	near(t, "effective degrees", got.Degrees, 16.7519, 0.01)
	if math.Floor(got.Degrees) != 16 || math.Round(student(0.99, got.Degrees)*math.Round(got.Standard)) != 93 {
		t.Errorf("degrees %g, U99 %g", got.Degrees, student(0.99, got.Degrees)*got.Standard)
	}
	near(t, "U99 from the unrounded u", student(0.99, got.Degrees)*got.Standard, 2.9208*31.6639, 0.01)
	near(t, "u(temperature difference)", b.Components[4].Share(), annex(t).H1.Budget["delta_theta"], 0.01)
	near(t, "u of a cycle of 0.5", b.Components[6].Standard(), 0.5/math.Sqrt2, 1e-12)
	near(t, "u of a triangle of 1", uncertainty.Component{Value: 1, Distribution: uncertainty.Triangular}.Standard(), 1/math.Sqrt(6), 1e-12)
}

// G.4.1: 0.25, 0.57 and 0.82 % with 9, 4 and 14 degrees: 1.03 %, 19.0, U95 2.2 %.
func TestWelchSatterthwaiteG41(t *testing.T) {
	var b uncertainty.Budget
	for i, u := range []float64{0.25, 0.57, 0.82} {
		b.Components = append(b.Components, uncertainty.Component{Value: u, Sensitivity: 1, Degrees: []float64{9, 4, 14}[i]})
	}
	got, err := b.Combine()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u", got.Standard, 1.0295, 1e-4)
	near(t, "degrees", got.Degrees, 18.999, 0.01)
	near(t, "U95 with 19 degrees", student(0.95, 19)*got.Standard, 2.2, 0.05)
}

// student is the two-sided factor of gonum's distribution, for degrees truncated
// to a whole number.
func student(p, degrees float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: math.Floor(degrees)}.Quantile((1 + p) / 2)
}

// covariance is that of two results of the same components (GUM H.2.3): a quarter
// of the variance of their sum less that of their difference.
func covariance(t *testing.T, b uncertainty.Budget, x, y []float64) float64 {
	variance := func(sign float64) float64 {
		c := slices.Clone(b.Components)
		for i := range c {
			c[i].Sensitivity = x[i] + sign*y[i]
		}
		got, err := uncertainty.Budget{Components: c, Correlations: b.Correlations}.Combine()
		if err != nil {
			t.Fatal(err)
		}
		return got.Standard * got.Standard
	}
	return (variance(1) - variance(-1)) / 4
}

func meanOf(v []float64) (mean, u float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		u += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(u / float64(len(v)*(len(v)-1)))
}

func correlation(x, y []float64) float64 {
	mx, ux := meanOf(x)
	my, uy := meanOf(y)
	sum := 0.0
	for i := range x {
		sum += (x[i] - mx) * (y[i] - my)
	}
	return sum / float64(len(x)*(len(x)-1)) / ux / uy
}

// H.2, impedance from simultaneous readings: with the correlations both ways of
// the guide agree, without them the result is another.
func TestImpedanceH2(t *testing.T) {
	h := annex(t).H2
	v, uv := meanOf(h.V)
	i, ui := meanOf(h.I)
	p, up := meanOf(h.Phi)
	near(t, "u(V)", uv, h.U["V"], 5e-5)
	near(t, "r(V, phi)", correlation(h.V, h.Phi), h.R["V_phi"], 0.005)
	i, ui = i/1000, ui/1000
	b := uncertainty.Budget{
		Components:   []uncertainty.Component{{Name: "V", Value: uv, Degrees: 4}, {Name: "I", Value: ui, Degrees: 4}, {Name: "phi", Value: up, Degrees: 4}},
		Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: correlation(h.V, h.I)}, {A: 0, B: 2, R: correlation(h.V, h.Phi)}, {A: 1, B: 2, R: correlation(h.I, h.Phi)}},
	}
	sens := map[string][]float64{
		"R": {math.Cos(p) / i, -v * math.Cos(p) / i / i, -v * math.Sin(p) / i},
		"X": {math.Sin(p) / i, -v * math.Sin(p) / i / i, v * math.Cos(p) / i},
		"Z": {1 / i, -v / i / i, 0},
	}
	for name, c := range sens {
		for k := range c {
			b.Components[k].Sensitivity = c[k]
		}
		got, err := b.Combine()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "u of "+name, got.Standard, h.First["u_"+name], 1e-6)
		near(t, "u of "+name+" as printed", got.Standard, h.Print["u_"+name], 0.0007)
		near(t, "variance of "+name, covariance(t, b, c, c), got.Standard*got.Standard, 1e-12)
		near(t, "u of "+name+", second way", got.Standard, h.Second["u_"+name], 3e-4)
		alone, err := uncertainty.Budget{Components: b.Components}.Combine()
		if err != nil || math.Abs(alone.Standard-got.Standard) < 0.03 {
			t.Errorf("%s: without correlations %g, with them %g, %v", name, alone.Standard, got.Standard, err)
		}
	}
	r := func(x, y string) float64 {
		return covariance(t, b, sens[x], sens[y]) / math.Sqrt(covariance(t, b, sens[x], sens[x])*covariance(t, b, sens[y], sens[y]))
	}
	near(t, "r(R, X)", r("R", "X"), h.First["r_R_X"], 1e-6)
	near(t, "r(R, Z)", r("R", "Z"), h.First["r_R_Z"], 1e-6)
	near(t, "r(X, Z)", r("X", "Z"), h.First["r_X_Z"], 1e-6)
	// The second way: the quantity of every set, then their mean.
	var rs, xs []float64
	for k := range h.V {
		z := h.V[k] / h.I[k] * 1000
		rs, xs = append(rs, z*math.Cos(h.Phi[k])), append(xs, z*math.Sin(h.Phi[k]))
	}
	mean, u := meanOf(rs)
	near(t, "R, second way", mean, h.Second["R"], 1e-6)
	near(t, "u(R), second way", u, h.Second["u_R"], 1e-6)
	near(t, "r(R, X), second way", correlation(rs, xs), h.Second["r_R_X"], 1e-6)
}

// H.3, calibration of a thermometer: the correction at 30 °C from a line, with
// the correlation of its two parameters.
func TestPredictionH3(t *testing.T) {
	h := annex(t).H3
	n, mean, sxx, my, sxy := float64(len(h.T)), 0.0, 0.0, 0.0, 0.0
	for k := range h.T {
		mean, my = mean+(h.T[k]-20)/n, my+h.B[k]/n
	}
	for k := range h.T {
		x := h.T[k] - 20 - mean
		sxx, sxy = sxx+x*x, sxy+x*(h.B[k]-my)
	}
	slope, ss := sxy/sxx, 0.0
	for k := range h.T {
		r := h.B[k] - my - slope*(h.T[k]-20-mean)
		ss += r * r
	}
	s := math.Sqrt(ss / (n - 2))
	u1, u2 := s*math.Sqrt(1/n+mean*mean/sxx), s/math.Sqrt(sxx)
	near(t, "u(y1)", u1, h.Want["u_y1"], 1e-9)
	near(t, "u(y2)", u2, h.Want["u_y2"], 1e-9)
	at30 := uncertainty.Budget{
		Components:   []uncertainty.Component{{Name: "at 20 °C", Value: u1, Sensitivity: 1}, {Name: "slope", Value: u2, Sensitivity: 10}},
		Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: h.Want["r"]}},
	}
	got, err := at30.Combine()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "b(30 °C)", my-slope*mean+10*slope, h.Want["b_at_30"], 1e-9)
	near(t, "u(b at 30 °C)", got.Standard, h.Want["u_b_at_30"], 1e-9)
}

func TestBudgetRefuses(t *testing.T) {
	one := []uncertainty.Component{{Name: "a", Value: 1, Sensitivity: 1}, {Name: "b", Value: 1, Sensitivity: 1}}
	for name, b := range map[string]uncertainty.Budget{
		"negative":    {Components: []uncertainty.Component{{Value: -1, Sensitivity: 1}}},
		"no number":   {Components: []uncertainty.Component{{Value: math.NaN(), Sensitivity: 1}}},
		"r above 1":   {Components: one, Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: 1.1}}},
		"with itself": {Components: one, Correlations: []uncertainty.Correlation{{A: 1, B: 1, R: 1}}},
		"not there":   {Components: one, Correlations: []uncertainty.Correlation{{A: 0, B: 2, R: 1}}},
	} {
		if _, err := b.Combine(); err == nil {
			t.Errorf("%s: combined", name)
		}
	}
	full, err := uncertainty.Budget{Components: one, Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: -1}}}.Combine()
	if err != nil || full.Standard != 0 {
		t.Errorf("r = -1: %g, %v", full.Standard, err)
	}
}
