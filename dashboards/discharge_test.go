package dashboards_test

import (
	"context"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// falling is a capacitor that is being discharged, and leads that were nulled.
type falling struct{}

func (falling) Cold(string) web.Cold {
	card, _ := falling{}.Reckon(dashboards.DischargeAsk{})
	d := &web.Discharge{
		Phase: "falling", News: "C1, bulk falls", Say: "C1, bulk falls: 83.0 V, 1.36 s to 5 V", What: "C1, bulk", Channel: "dmm/volts", Card: card, Begun: start, At: start.Add(5 * time.Second),
		Volts: 83.0, Expected: 81.4, Resolution: 0.1, ToGo: 1.36, Remarks: []string{},
		Steps: []web.DischargeStep{{Name: "Meter proved before", Done: true, Say: "9.05 V at 14:00 on a battery"}, {Name: "Below 5 V, measured", Say: "not yet"}, {Name: "Meter proved after", Say: "prove it again on the same source"}},
	}
	for i := range 50 {
		s := float64(i) / 10
		dot := web.DischargeDot{At: start.Add(time.Duration(i) * 100 * time.Millisecond), Volts: 325}
		if s >= 2 {
			dot.Volts, dot.Expected = 325*math.Exp(-(s-2)/2.3), 325*math.Exp(-(s-2)/2.2)
		}
		d.Curve = append(d.Curve, dot)
	}
	return web.Cold{Discharge: d, Leads: []web.Leads{
		{Channel: "dmm/ohms", Ohms: 0.183, Scatter: 0.012, N: 3, At: start, Until: start.Add(4 * time.Hour), Valid: true, Say: "± 12 mΩ, scatter of 3 nulls"},
		{Channel: "handheld/ohms", Ohms: 0.3, Scatter: 0.01, N: 1, At: start.Add(-5 * time.Hour), Until: start.Add(-time.Hour), Say: "older than 4 h: hold the probes together and null again"},
	}}
}

func (falling) Reckon(ask dashboards.DischargeAsk) (web.DischargeCard, error) {
	if ask.Farads == "0" {
		return web.DischargeCard{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: "the capacitance is zero"}
	}
	return web.DischargeCard{Ohms: 2200, Farads: 1e-3, Volts: 325, Level: 5, Tau: 2.2, Wait: 9.18, Peak: 48, Energy: 52.8, Rating: "does not fit", Say: []string{
		"From 325 V to 5 V in 9.18 s, if R and C are what they say. Measure: the wait proves nothing.", "The resistor takes 48.0 W in the first moment and 52.8 J in all.",
		"Its rating of 5.00 W is too small: the first moment has 10 times as much. Take a higher resistance, or a larger resistor.",
	}}, nil
}

func (falling) ProveMeter(_ context.Context, _ string, ask dashboards.DischargeAsk) (dashboards.Result, error) {
	return dashboards.Result{Say: "proved on " + ask.Source + ask.Battery}, nil
}

func (falling) BeginDischarge(_ context.Context, _ string, ask dashboards.DischargeAsk) (dashboards.Result, error) {
	return dashboards.Result{Say: "begun with " + ask.Ohms}, nil
}

func (falling) EndDischarge(context.Context, string) (dashboards.Result, error) {
	return dashboards.Result{Say: "ended"}, nil
}

func cold(o *dashboards.Options) { o.Cold = falling{} }

func TestDischargeAPI(t *testing.T) {
	srv := serve(t, newFake(night()), cold)
	for _, c := range []struct {
		method, path, body string
		head               map[string]string
		code               int
		words              string
	}{
		{"GET", "/api/v1/discharge", "", nil, http.StatusOK, `"phase":"falling"`},
		{"GET", "/api/v1/discharge/card?ohms=2.2k&farads=1000u&volts=325", "", nil, http.StatusOK, `"rating":"does not fit"`},
		{"GET", "/api/v1/discharge/card?farads=0", "", nil, http.StatusBadRequest, "capacitance is zero"},
		{"POST", "/api/v1/discharge", `{"step":"prove","channel":"dmm/volts","battery":"9"}`, bearer, http.StatusCreated, "proved on 9"},
		{"POST", "/api/v1/discharge", `{"step":"begin","channel":"dmm/volts","ohms":"2.2k"}`, bearer, http.StatusCreated, "begun with 2.2k"},
		{"POST", "/api/v1/discharge", `{"step":"end"}`, bearer, http.StatusCreated, "ended"},
		{"POST", "/api/v1/discharge", `{"step":"hope"}`, bearer, http.StatusBadRequest, "steps: prove, begin, end"},
		{"POST", "/api/v1/discharge", `{"step":"end","ohm":"1"}`, bearer, http.StatusBadRequest, "ohm"},
		{"POST", "/api/v1/discharge", `{"step":"end"}`, map[string]string{"Content-Type": "application/json"}, http.StatusUnauthorized, "token"},
	} {
		if resp, body := call(t, srv, req{method: c.method, path: c.path, body: c.body, head: c.head}); resp.StatusCode != c.code || !strings.Contains(body, c.words) {
			t.Errorf("%s %s %s: %d %s", c.method, c.path, c.body, resp.StatusCode, body)
		}
	}
	bare := serve(t, newFake(night()))
	for _, path := range []string{"/api/v1/discharge", "/api/v1/discharge/card"} {
		if resp, _ := call(t, bare, req{path: path}); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s without cold checks: %d", path, resp.StatusCode)
		}
	}
}

// The page counts down beside the curve of R and C, and shows what is missing
// and which null has expired. It never says that something is safe.
func TestDischargePage(t *testing.T) {
	srv := serve(t, newFake(night()), cold)
	_, page := call(t, srv, req{path: "/discharge?ohms=2.2k&farads=1000u&volts=325"})
	for _, want := range []string{"C1, bulk falls", "83.0\u00a0V", "R and C say 81.4\u00a0V", "1.4\u00a0s to 5\u00a0V", `class="law"`, `class="read"`, "Meter proved after", "missing", "0.183\u00a0Ω", "expired", `value="2.2k"`, "10 times as much"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if text := strings.ToLower(page); strings.Contains(strings.ReplaceAll(text, "not a safety device", ""), "safe") {
		t.Error("the page says safe")
	}
	if _, page := call(t, srv, req{path: "/discharge?ohms=2.2k&farads=0&volts=325"}); !strings.Contains(page, "The capacitance is zero") {
		t.Error("what is wrong with the card is not said")
	}
	if _, page := call(t, serve(t, newFake(night())), req{path: "/discharge"}); !strings.Contains(page, "Nothing is being discharged") {
		t.Error("the page of a bench without cold checks")
	}
}

// TestCautionStandsUntilRead: beside the stages, on every page of its stage, with
// a button where acts are possible.
func TestCautionStandsUntilRead(t *testing.T) {
	snap := night()
	snap.Jobs[0].Stage = capture.Isolate
	show := func(path string) string {
		_, page := call(t, serve(t, newFake(snap), cold), req{path: path})
		return page
	}
	for _, path := range []string{"/", "/job", "/discharge"} {
		if page := show(path); !strings.Contains(page, "The iron is earthed") || !strings.Contains(page, "Local codes") {
			t.Errorf("%s lacks the caution", path)
		} else if !strings.Contains(page, "Cautions: charged capacitors, hot iron, injected current") {
			t.Errorf("%s does not name the hazards in a line", path)
		} else if _, list, _ := strings.Cut(page, "Cautions of this stage"); strings.Count(strings.SplitN(list, "</section>", 2)[0], "Local codes") != 1 {
			t.Errorf("%s says not once what governs the work", path)
		}
	}
	snap.Jobs[0].Stage = capture.TakeIn
	if page := show("/job"); !strings.Contains(page, "Capacitors keep their charge") || strings.Contains(page, "The mains side") {
		t.Error("at take-in: the caution of capacitors is missing, or that of a mains side which this board has not is there")
	}
	snap.Jobs[0].Stage = capture.Isolate
	snap.Jobs[0].Cautioned = []string{capture.CautionHeat}
	if page := show("/"); strings.Contains(page, "The iron is earthed") || !strings.Contains(page, "Injected current") {
		t.Error("one that was read still stands there, or another is gone")
	}
}
