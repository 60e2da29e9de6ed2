package dashboards_test

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// closedJobs is a bench whose workspace has a closed job besides.
type closedJobs struct{ *fakeBench }

func (b closedJobs) Jobs(ctx context.Context) ([]dashboards.JobSummary, error) {
	list, err := b.fakeBench.Jobs(ctx)
	return append(list, dashboards.JobSummary{Job: "AB-0139/2", Set: "Alderbrook 88 stage piano", SerialNumber: "88-204", Symptom: "No sound", Opened: start.Add(-49 * time.Hour), Closed: start.Add(-24 * time.Hour)}), err
}

// From the page that is left when a job was closed one click leads to the list of
// reports, and one more to the report of the closed job.
func TestTheReportOfAClosedJobIsFound(t *testing.T) {
	page := func(s live.Snapshot, path string, with ...func(*dashboards.Options)) (string, string) {
		b := newFake(s)
		srv := serve(t, b, append(with, func(o *dashboards.Options) { o.Bench = closedJobs{b} })...)
		resp, body := call(t, srv, req{path: path, head: map[string]string{"Accept": "text/html"}})
		return resp.Header.Get("Location"), body
	}
	for _, path := range []string{"/", "/job"} {
		if _, body := page(benchAlone(), path); !strings.Contains(body, `<a href="/reports">Reports</a>`) {
			t.Errorf("%s of a bench without a job has no way to the reports", path)
		}
	}
	if to, _ := page(benchAlone(), "/report"); to != "/reports" {
		t.Errorf("without an open job the report leads to %q", to)
	}
	if to, body := page(night(), "/report"); to != "" || strings.Contains(body, "/reports") {
		t.Errorf("with one it leads to %q: %s", to, body)
	}
	for name, s := range map[string]live.Snapshot{"no job open": benchAlone(), "another open": night()} {
		_, body := page(s, "/reports")
		if !strings.Contains(body, `<a href="/api/v1/jobs/AB-0139%2F2/report">AB-0139/2</a>`) || !strings.Contains(body, ">not yet</td>") {
			t.Errorf("%s: the closed job has no way to its report: %s", name, body[max(0, strings.Index(body, "<main")):])
		}
	}
	b := newFake(night())
	b.fails = &dashboards.Error{Kind: dashboards.Unavailable, Detail: "the workspace cannot be read"}
	if resp, _ := call(t, serve(t, b), req{path: "/reports"}); resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("a workspace that cannot be read: %d", resp.StatusCode)
	}
}
