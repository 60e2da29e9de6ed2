package dashboards_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/walk"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// asked notes the jobs that a page asked for.
type asked struct {
	falling
	dashboards.Isolator
	jobs []string
}

func (a *asked) note(job string) { a.jobs = append(a.jobs, job) }

func (a *asked) Cold(job string) web.Cold { a.note(job); return web.Cold{} }

func (a *asked) SoakState(job string) (capture.RegimenState, error) {
	a.note(job)
	return capture.RegimenState{}, nil
}

func (a *asked) PlanSoak(context.Context, string, dashboards.SoakRequest) (dashboards.SoakAnswer, error) {
	return dashboards.SoakAnswer{}, nil
}

func (a *asked) Walk(_ context.Context, job string, _ uint64) (dashboards.WalkView, error) {
	a.note(job)
	return dashboards.WalkView{View: walk.View{}}, nil
}

func (a *asked) DoWalk(context.Context, string, dashboards.WalkAct) (dashboards.Result, error) {
	return dashboards.Result{}, nil
}

func (a *asked) Search(_ context.Context, job string) (capture.FaultSearch, error) {
	a.note(job)
	return capture.FaultSearch{}, nil
}

func (a *asked) Boards(context.Context) ([]web.BoardFile, error) { return nil, nil }

func (a *asked) trim(job, rail string) (capture.Trimming, error) {
	a.note(job)
	return capture.Trimming{Rail: rail}, nil
}

// A page never shows one job's name with what was measured in another: under
// "discharged" a hand goes on a capacitor.
func TestPagesShowTheJobThatWasAskedFor(t *testing.T) {
	s := two()
	newest := s.Jobs[1].Sheet.Job
	a := &asked{}
	srv := serve(t, newFake(s), func(o *dashboards.Options) {
		o.Cold, o.Soak, o.Walk, o.Isolate, o.Trim = a, a, a, a, a.trim
	})
	for _, page := range []string{"/discharge", "/soak", "/walk", "/isolate", "/trim"} {
		for query, want := range map[string]string{"job=AB-0139": "AB-0139", "": ""} {
			a.jobs = nil
			path := page + "?" + query
			if page == "/trim" {
				path = page + "?rail=%2B3.3+V+DSP&" + query
			}
			resp, _ := call(t, srv, req{path: path})
			if page == "/trim" && want == "" {
				want = newest
			}
			if resp.StatusCode != http.StatusOK || len(a.jobs) != 1 || a.jobs[0] != want {
				t.Errorf("%s: %d, asked for %q, want %q", path, resp.StatusCode, a.jobs, want)
			}
		}
	}
	_, body := call(t, srv, req{path: "/trim?rail=%2B3.3+V+DSP&job=AB-0139"})
	if strings.Contains(body, "DSP?job=") || !strings.Contains(body, "&amp;job=AB-0139") {
		t.Error("the Trim page's addresses do not carry its job")
	}
	resp, _ := call(t, srv, req{path: "/trim?job=AB-0139"})
	if to := resp.Header.Get("Location"); !strings.HasSuffix(to, "&job=AB-0139") {
		t.Errorf("to the rail in work: %q", to)
	}
}
