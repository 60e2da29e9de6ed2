package discharge

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

const reference = "../../testdata/reference/power/"

// TestReckonReference holds the card against published forms of the RC law,
// testdata/reference/power/capacitor_discharge.json.
func TestReckonReference(t *testing.T) {
	data, err := os.ReadFile(reference + "capacitor_discharge.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []struct {
			V0     float64 `json:"V0"`
			C      float64 `json:"C_F"`
			R      float64 `json:"R_ohm"`
			Target float64 `json:"V_target"`
			Tau    float64 `json:"tau_s"`
			T      float64 `json:"t_s"`
			E      float64 `json:"E_J"`
			P      float64 `json:"peak_P_in_R_W"`
		} `json:"cases"`
	}
	if err := json.Unmarshal(data, &file); err != nil || len(file.Cases) < 6 {
		t.Fatalf("%d cases, %v", len(file.Cases), err)
	}
	for _, c := range file.Cases {
		d := capture.Discharge{Ohms: c.R, Farads: c.C, Volts: c.V0, Level: c.Target}
		if err := d.Validate(); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
		a := Reckon(d)
		for name, v := range map[string][2]float64{"tau": {a.Tau.Seconds(), c.Tau}, "wait": {a.Wait.Seconds(), c.T}, "energy": {a.Energy, c.E}, "peak": {a.Peak, c.P}} {
			if math.Abs(v[0]-v[1]) > 1e-5*v[1] {
				t.Errorf("%+v: %s is %g, published %g", c, name, v[0], v[1])
			}
		}
	}
}

// TestDecayReference: what remains after so many time constants
// (testdata/reference/power/rc_time_constants.csv).
func TestDecayReference(t *testing.T) {
	f, err := os.Open(reference + "rc_time_constants.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows[1:] {
		x, _ := strconv.ParseFloat(row[0], 64)
		left, _ := strconv.ParseFloat(row[1], 64)
		if got := 100 * decay(x); math.Abs(got-left) > 1e-6 {
			t.Errorf("after %g time constants %.8f %% remain, published %.6f %%", x, got, left)
		}
	}
}

// TestDecayIsExp: our own series is the library's function.
func TestDecayIsExp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0, 690).Draw(t, "x")
		if want := math.Exp(-x); math.Abs(decay(x)-want) > (4+x)*1e-15*want {
			t.Fatalf("decay(%g) is %g, not %g", x, decay(x), want)
		}
	})
	if decay(1e9) != 0 || decay(0) != 1 {
		t.Error("the ends")
	}
}

// TestRating: the first moment decides; a pulse above the rating is its data
// sheet's to judge.
func TestRating(t *testing.T) {
	for _, c := range []struct {
		watts float64
		word  Word
		says  string
	}{
		{0, NotStated, "not stated"}, {50, Fits, "enough"}, {48.1, Fits, "enough"}, {12, CannotTell, "pulse curve"}, {0.25, TooSmall, "too small"},
	} {
		d := capture.Discharge{Ohms: 2200, Farads: 220e-6, Volts: 325, Level: 5, Watts: c.watts}
		a := Reckon(d)
		if a.Rating != c.word || !strings.Contains(a.Say[2], c.says) {
			t.Errorf("%g W: %s, %q", c.watts, a.Rating, a.Say[2])
		}
	}
}

// TestNeverSafe: no sentence of a card says that anything is safe.
func TestNeverSafe(t *testing.T) {
	for _, level := range []float64{capture.LevelTouch, capture.LevelWork, capture.LevelOhms, 400} {
		for _, say := range Reckon(capture.Discharge{Ohms: 2200, Farads: 220e-6, Volts: 325, Level: level, Watts: 5}).Say {
			if strings.Contains(strings.ToLower(say), "safe") {
				t.Error(say)
			}
		}
	}
}

// TestAbsurdCards are refused with what to do.
func TestAbsurdCards(t *testing.T) {
	good := capture.Discharge{Ohms: 2200, Farads: 220e-6, Volts: 325, Level: 5, Watts: 5}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(*capture.Discharge){
		"capacitance is zero or missing":         func(d *capture.Discharge) { d.Farads = 0 },
		"capacitance cannot be negative":         func(d *capture.Discharge) { d.Farads = -1e-6 },
		"resistance is zero or missing":          func(d *capture.Discharge) { d.Ohms = 0 },
		"resistance is not a number":             func(d *capture.Discharge) { d.Ohms = math.NaN() },
		"voltage to begin with of 1e+06 V":       func(d *capture.Discharge) { d.Volts = 1e6 },
		"level cannot be negative":               func(d *capture.Discharge) { d.Level = -5 },
		"level is not a number":                  func(d *capture.Discharge) { d.Level = math.Inf(1) },
		"resistor's rating cannot be negative":   func(d *capture.Discharge) { d.Watts = -1 },
		"time constant of 61 h":                  func(d *capture.Discharge) { d.Ohms, d.Farads = 1e9, 220e-6 },
		"capacitance of 220000 F is none that a": func(d *capture.Discharge) { d.Farads = 220e3 },
	} {
		d := good
		spoil(&d)
		if err := d.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
