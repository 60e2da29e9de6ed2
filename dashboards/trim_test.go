package dashboards_test

import (
	"errors"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// lowTrimming is a rail with three touches behind it.
func lowTrimming(_, rail string) (capture.Trimming, error) {
	if rail != "+5 V logic" {
		return capture.Trimming{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: "no rail " + rail}
	}
	none, load := 0.0, 0.62
	t := capture.Trimming{
		Job: "AB-0147", Rail: rail, State: "low", At: start, Value: 4.8812, Resolution: 0.0001, Uncertainty: 0.003, Target: 5, Off: -0.1188, Deviation: -1.19, Steady: true,
		Say: "0.119 V low: up", Next: "about 40 mV a turn: 3 turns up, then lift the blade", Spoken: "4.8812 volts. 0.119 volts low. Turn up.",
		Notes:   []string{"The screw has slack: about a quarter of a turn is lost when it turns back. Come to the target from one side."},
		Tone:    capture.Tone{Hz: []float64{520}, Every: 300 * time.Millisecond, Pips: 1, Long: 60 * time.Millisecond},
		Touch:   &capture.Touch{Moved: 0.018, U: 0.0002, Turns: 0.5},
		Touches: 3, Gain: &capture.TrimGain{PerTurn: 0.040, U: 0.0012, Touches: 3}, Slack: 0.25,
		Course:   capture.Course{Say: "Not yet known: watched 4 of 30 min"},
		Preset:   &capture.TrimPoint{At: start, Stage: capture.Preset, Value: 5.0003, U: 0.003, As: capture.MarkedAs{Load: &none}},
		Fitted:   &capture.TrimPoint{At: start, Stage: capture.Trim, Value: 4.9803, U: 0.003, As: capture.MarkedAs{Load: &load}},
		Findings: []string{"Fit-in shift −20.00 ± 0.48 mV (k = 2): 5.000 V without load, 4.980 V fitted (leads, line, heat and load together; no load regulation); one meter for both, so what its gain is off cancels"},
	}
	v := 4.80
	for i := range 150 {
		switch i {
		case 30, 70, 110:
			v += 0.027
		}
		t.Trace = append(t.Trace, capture.Point2{At: start.Add(time.Duration(i-150) * 200 * time.Millisecond), Value: v, Good: true})
	}
	return t, nil
}

// TestTrimPage: the order, what the screw is worth and what fitting did stand on
// the page as the judgement says them; nothing else does.
func TestTrimPage(t *testing.T) {
	srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: newFake(night()), Token: token, Zone: time.UTC, Trim: lowTrimming}))
	t.Cleanup(srv.Close)
	_, body := call(t, srv, req{path: "/trim?rail=%2B5%20V%20logic"})
	for _, want := range []string{"0.119 V low:", "turn up", "About 40 mV a turn: 3 turns up, then lift the blade", "Fit-in shift −20.00 ± 0.48 mV", "Not yet known", "watched 4 of 30 min", "5.000", "4.980"} {
		if !strings.Contains(text(body), want) {
			t.Errorf("does not say %q", want)
		}
	}
	if !strings.Contains(body, `data-hz="520"`) || !strings.Contains(body, `data-every="0.3"`) {
		t.Error("the tone is not on the page")
	}
	if resp, body := call(t, srv, req{path: "/trim?rail=nothing"}); resp.StatusCode != 404 || !strings.Contains(body, "No rail to trim") {
		t.Errorf("%d", resp.StatusCode)
	}
	if resp, body := call(t, srv, req{path: "/api/v1/trim?rail=%2B5%20V%20logic"}); resp.StatusCode != 200 || !strings.Contains(body, `"per_turn":0.04`) {
		t.Errorf("%d %.200s", resp.StatusCode, body)
	}
	if resp, _ := call(t, srv, req{path: "/api/v1/trim?rail=7"}); resp.StatusCode != 404 {
		t.Errorf("an unknown rail: %d", resp.StatusCode)
	}
}

// TestNobodyFollowsTheScrew: a daemon without it says so and draws a page.
func TestNobodyFollowsTheScrew(t *testing.T) {
	srv := serve(t, newFake(night()))
	for _, path := range []string{"/trim?rail=%2B5%20V%20logic", "/api/v1/trim"} {
		if resp, _ := call(t, srv, req{path: path}); resp.StatusCode != 404 {
			t.Errorf("%s: %d", path, resp.StatusCode)
		}
	}
	if _, err := lowTrimming("", "x"); !errors.As(err, new(*dashboards.Error)) {
		t.Error(err)
	}
}

// TestTheToneIsPlayedAsItIsSaid: the page's script takes the tone from the page,
// and a chord has three voices that stand.
func TestTheToneIsPlayedAsItIsSaid(t *testing.T) {
	srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: newFake(night()), Token: token, Zone: time.UTC, Trim: lowTrimming}))
	t.Cleanup(func() { srv.CloseClientConnections(); srv.Close() })
	ctx := browser(t)
	do(t, ctx, chromedp.Navigate(srv.URL+"/trim?rail=%2B5%20V%20logic&token="+token), chromedp.WaitReady(chromedp.CSS("#tone")))
	got := get(t, ctx, chromedp.Evaluate[string](`import('/assets/screw.js').then((m) => { const a = m.toneOf(document.getElementById('tone').dataset), b = m.toneOf({ hz: '660 825 990', every: '0', pips: '0', long: '0' }), c = m.toneOf(null); return [a.hz, a.every, a.pips, a.long, b.hz.length, b.every, c.hz.length].join(' '); })`, chromedp.EvalAwaitPromise))
	if got != "520 0.3 1 0.06 3 0 0" {
		t.Errorf("%q", got)
	}
	said := get(t, ctx, chromedp.Evaluate[string](`(() => { const out = []; globalThis.speechSynthesis.speak = (u) => out.push(u.text); dispatchEvent(new KeyboardEvent('keydown', { key: 'b', bubbles: true })); document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'PageDown', bubbles: true })); return out.join('|'); })()`))
	if said != "4.8812 volts. 0.119 volts low. Turn up.|4.8812 volts. 0.119 volts low. Turn up." {
		t.Errorf("any key says the value: %q", said)
	}
}
