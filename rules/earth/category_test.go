package earth_test

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/rules/earth"
)

// After IEC 61010-2-030, from memory: a circuit of category II at 300 V to earth
// takes an instrument whose category and whose voltage both reach that. Category
// I of old editions says that it is not for mains.
func TestRatingsThatCover(t *testing.T) {
	for need, table := range map[earth.Rating]map[string]bool{
		{Category: 2, Volts: 300}: {
			"CAT II 300 V": true, "CAT II 600 V": true, "CAT II 1000 V": true, "CAT III 300 V": true, "CAT III 600 V": true, "CAT IV 300 V": true, "CAT IV 600 V": true,
			"CAT I 1000 V": false, "CAT I 300 V": false, "CAT II 150 V": false, "CAT III 150 V": false, "CAT IV 150 V": false,
			"CAT II 1000 V, CAT III 600 V": true, "CAT I 1000 V / CAT II 300 V": true, "cat ii 300 v": true, "CAT I 1000 V, CAT II 150 V": false,
		},
		{Category: 3, Volts: 300}: {"CAT II 1000 V": false, "CAT III 300 V": true, "CAT IV 300 V": true, "CAT II 1000 V, CAT III 150 V": false},
		{Category: 2, Volts: 400}: {"CAT II 300 V": false, "CAT III 300 V": false, "CAT II 600 V": true, "CAT II 300 V, CAT I 1000 V": false},
		{Category: 4, Volts: 600}: {"CAT III 1000 V": false, "CAT IV 600 V": true, "CAT IV 300 V": false},
	} {
		for text, want := range table {
			ratings, err := earth.ParseRatings(text)
			if err != nil {
				t.Errorf("%s: %v", text, err)
			}
			got := false
			for _, r := range ratings {
				got = got || r.Covers(need)
			}
			if got != want {
				t.Errorf("%s for %s: %v", text, need, got)
			}
		}
	}
}

func TestWhatIsNoRating(t *testing.T) {
	for _, text := range []string{"", "CAT II", "300 V", "CAT V 300 V", "CAT II 0 V", "CAT II 300", "CAT II 300 V,CAT", "II 300 V", "CAT II -300 V", "CAT II 1e9 V"} {
		if r, err := earth.ParseRatings(text); err == nil {
			t.Errorf("%q is %v", text, r)
		}
	}
}

func TestMayStandOn(t *testing.T) {
	bulk := capture.Rail{Name: "+300 V bulk", Nominal: 300, Bounds: capture.NoBounds(), Side: capture.Mains}
	pfc := capture.Rail{Name: "+385 V bulk", Nominal: 385, Bounds: capture.Bounds{Low: 370, High: 410}, Side: capture.Mains}
	plate := capture.Rail{Name: "+350 V plate", Nominal: 350, Bounds: capture.NoBounds()}
	logic := capture.Rail{Name: "+5 V logic", Nominal: 5, Bounds: capture.NoBounds()}
	full := capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300}
	for name, c := range map[string]struct {
		iso  capture.Isolation
		rail capture.Rail
		want string
	}{
		"isolated and rated":       {full, bulk, ""},
		"nothing stated":           {capture.Isolation{}, bulk, "not known to be isolated"},
		"earthed":                  {capture.Isolation{Category: "CAT IV 600 V", Port: "earthed", PortVolts: 600}, bulk, "not known to be isolated"},
		"no category":              {capture.Isolation{Port: "isolated", PortVolts: 600}, bulk, "category is not stated"},
		"category I":               {capture.Isolation{Category: "CAT I 1000 V", Port: "isolated", PortVolts: 600}, bulk, "CAT I 1000 V"},
		"unreadable category":      {capture.Isolation{Category: "yes", Port: "isolated", PortVolts: 600}, bulk, "not isolated for it"},
		"port volts not stated":    {capture.Isolation{Category: "CAT II 300 V", Port: "isolated"}, bulk, "is not stated"},
		"port volts too few":       {capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 60}, bulk, "60 V only"},
		"probes too weak":          {capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300, Probe: "CAT II 150 V"}, bulk, "probes"},
		"probes rated":             {capture.Isolation{Category: "CAT II 300 V", Port: "isolated", PortVolts: 300, Probe: "CAT III 1000 V"}, bulk, ""},
		"more than 300 V":          {full, pfc, "needs CAT II 410 V"},
		"600 V for more":           {capture.Isolation{Category: "CAT II 600 V", Port: "isolated", PortVolts: 600}, pfc, ""},
		"secondary, nothing known": {capture.Isolation{}, plate, ""},
		"secondary, too high":      {full, plate, "rated for 300 V"},
		"secondary, any category":  {capture.Isolation{Category: "CAT I 1000 V"}, plate, ""},
		"secondary, probes":        {capture.Isolation{Category: "CAT I 1000 V", Probe: "CAT II 300 V"}, plate, "probes"},
		"secondary, port":          {capture.Isolation{Port: "isolated", PortVolts: 60}, plate, "isolated for 60 V"},
		"secondary, low":           {full, logic, ""},
	} {
		got := earth.Unrated(capture.InstrumentInfo{Name: "dmm", Isolation: c.iso}, c.rail)
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// The thresholds are those of the published values.
func TestLimitsOfTheCautions(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/safety/limits.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Limits struct {
			DC   float64 `json:"dc_V"`
			RMS  float64 `json:"ac_rms_V"`
			Peak float64 `json:"ac_peak_V"`
		} `json:"low_voltage_limits"`
	}
	if err := json.Unmarshal(raw, &ref); err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{"DC": ref.Limits.DC, "AC rms": ref.Limits.RMS, "AC peak": ref.Limits.Peak}
	for _, l := range earth.Limits {
		if l.Volts != want[l.Kind] || l.Source == "" {
			t.Errorf("%+v, published %g", l, want[l.Kind])
		}
	}
	if len(earth.Limits) != 3 || math.Abs(ref.Limits.Peak-30*math.Sqrt2) > .05 {
		t.Errorf("%+v", earth.Limits)
	}
}

func TestCautions(t *testing.T) {
	for nominal, lines := range map[float64]int{5: 0, -60: 0, 61: 2, -350: 2} {
		got := earth.Cautions(capture.InstrumentInfo{Name: "dmm"}, capture.Rail{Name: "x", Nominal: nominal})
		if len(got) != lines || lines > 0 && !strings.Contains(got[0], "Local codes and licensed practice") {
			t.Errorf("%g V: %q", nominal, got)
		}
	}
	got := earth.Cautions(capture.InstrumentInfo{Name: "dmm"}, capture.Rail{Name: "x", Nominal: 12, Side: capture.Mains})
	if len(got) != 2 || !strings.Contains(got[1], "peak") {
		t.Errorf("mains side: %q", got)
	}
}

// A check names the rating first, then the loop; leads on nothing are welcome.
func TestCheck(t *testing.T) {
	b := piano()
	for _, c := range []struct {
		p    capture.Placement
		want string
	}{
		{place("dmm/volts", "+300 V bulk", "", ""), "not known to be isolated"},
		{place("meter/volts", "+300 V bulk", "", ""), ""},
		{place("meter/volts", "+5 V logic", "", "+300 V bulk"), ""},
		{place("dmm/volts", "+5 V logic", "", "+300 V bulk"), "not known to be isolated"},
		{place("thermo/celsius", "", "PS2 case", ""), "not known to be isolated"},
		{place("thermo/celsius", "", "heat sink", "0 V"), ""},
		{place("dmm/volts", "", "", ""), ""},
		{place("nobody/volts", "+5 V logic", "", ""), ""},
	} {
		no, _ := b.Check(c.p)
		if (no == nil) != (c.want == "") || no != nil && (!strings.Contains(no.Detail, c.want) || no.Advice == "") {
			t.Errorf("%+v: %+v, want %q", c.p, no, c.want)
		}
	}
	if _, cautions := b.Check(place("meter/volts", "+300 V bulk", "", "")); len(cautions) != 2 {
		t.Errorf("cautions %q", cautions)
	}
}

func FuzzParseRatings(f *testing.F) {
	f.Add("CAT II 300 V")
	f.Add("CAT III 600 V, CAT II 1000 V")
	f.Fuzz(func(t *testing.T, text string) {
		ratings, err := earth.ParseRatings(text)
		for _, r := range ratings {
			again, err := earth.ParseRatings(r.String())
			if err != nil || len(again) != 1 || again[0] != r {
				t.Errorf("%v is read again as %v, %v", r, again, err)
			}
		}
		if err == nil && len(ratings) == 0 {
			t.Errorf("%q: neither a rating nor an error", text)
		}
	})
}
