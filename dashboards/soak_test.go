package dashboards_test

import (
	"context"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// cycling is a soak in its second piece, by a plan.
type cycling struct{ asked []dashboards.SoakRequest }

func (c *cycling) SoakState(string) (capture.RegimenState, error) {
	plan := capture.Regimen{For: 86400, Warm: 3600, Cycles: 2, On: 1200, Off: 600, Output: "supply", Steps: []float64{22, 26}, Each: 1800, Back: 24}
	s := capture.RegimenState{Job: "AB-0147", Plan: plan, State: capture.PlanRuns, Step: 5, From: start, Needed: 24 * time.Hour, Watched: 3*time.Hour + 10*time.Minute, Cycles: 0, Next: "supply on for 20 min, cycle 1 of 2"}
	for i, step := range plan.Course() {
		t := capture.RegimenTold{RegimenStep: step}
		switch {
		case i < 4:
			t.From, t.To, t.State, t.Verdict = start, start, capture.StepDone, "no alarm in it"
		case i == 4:
			t.From, t.State = start, capture.StepBegun
		}
		s.Steps = append(s.Steps, t)
	}
	s.Parts = []capture.SoakPart{{From: start, To: start.Add(2 * time.Hour)}, {From: start.Add(5 * time.Hour), To: start.Add(6*time.Hour + 10*time.Minute)}}
	s.Say = []string{"3 h 10 min of 24 h under power, in 2 pieces of 2 h and 1 h 10 min.", "3.1 h without a failure prove, with 95 % confidence, that under these conditions it fails less often than once in 1 h on average. They prove no more than that.", "Step 5 of 9: supply off for 10 min, cycle 1 of 2.", "Next: supply on for 20 min, cycle 1 of 2."}
	return s, nil
}

func (c *cycling) PlanSoak(_ context.Context, _ string, r dashboards.SoakRequest) (dashboards.SoakAnswer, error) {
	c.asked = append(c.asked, r)
	if r.Permit == "" {
		return dashboards.SoakAnswer{Permit: &dashboards.Permit{Code: "once", Say: "supply switched off for 10 min and on for 20 min, 2 times.", Notes: []string{"mind"}}}, nil
	}
	return dashboards.SoakAnswer{Result: dashboards.Result{Say: "begun"}}, nil
}

// TestSoakPage: elapsed and needed, the pieces, what it proves and the next step
// stand on the page.
func TestSoakPage(t *testing.T) {
	srv := httptest.NewServer(dashboards.New(dashboards.Options{Bench: newFake(night()), Token: token, Zone: time.UTC, Soak: &cycling{}}))
	t.Cleanup(srv.Close)
	_, body := call(t, srv, req{path: "/soak"})
	for _, want := range []string{"Soaking, 3 h 10 min of 24 h", "in 2 pieces of 2 h and 1 h 10 min", "prove, with 95 % confidence", "Next: supply on for 20 min", "Supply off for 10 min, cycle 1 of 2", "no alarm in it", "to come"} {
		if !strings.Contains(text(body), want) {
			t.Errorf("does not say %q", want)
		}
	}
	if resp, body := call(t, srv, req{path: "/api/v1/soak"}); resp.StatusCode != 200 || !strings.Contains(body, `"state":"running"`) {
		t.Errorf("%d %.100s", resp.StatusCode, body)
	}
}

// TestNobodyRunsSoaks: a daemon without plans says so.
func TestNobodyRunsSoaks(t *testing.T) {
	srv := serve(t, newFake(night()))
	if resp, _ := call(t, srv, req{path: "/api/v1/soak"}); resp.StatusCode != 404 {
		t.Errorf("%d", resp.StatusCode)
	}
	if resp, body := call(t, srv, req{path: "/soak"}); resp.StatusCode != 200 || !strings.Contains(body, "No soak was started") {
		t.Errorf("%d", resp.StatusCode)
	}
}
