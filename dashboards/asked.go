package dashboards

import (
	"net/http"
	"net/url"

	"steadyrail/capture/live"
)

// askedJob is the open job that a page was asked for with ?job=; "" is the one
// opened last, also when that job is not open any more.
func askedJob(r *http.Request, s live.Snapshot) string {
	id := r.URL.Query().Get("job")
	if r.Method == http.MethodPost && id == "" { // a form that is answered with its own page
		id = aside(r.PostFormValue("job"), s)
	}
	if _, open := s.Job(id); !open {
		return ""
	}
	return id
}

// aside is a job where it is not the one opened last, which every page shows unasked.
func aside(job string, s live.Snapshot) string {
	if last, _ := s.Job(""); job == last.Sheet.Job {
		return ""
	}
	return job
}

// jobQuery is what an address carries to stay with a job.
func jobQuery(job string) string {
	if job == "" {
		return ""
	}
	return "?job=" + url.QueryEscape(job)
}
