package dashboards

import (
	"net/http"

	"steadyrail/dashboards/web"
)

// reportsPage lists every job of the workspace, open and closed, with the way to its
// report: a job that was closed stands on no other page.
func (h *handler) reportsPage(w http.ResponseWriter, r *http.Request) {
	jobs, err := h.opts.Bench.Jobs(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	m := h.model(r, "reports", "", "")
	for _, j := range jobs {
		m.Reports = append(m.Reports, web.ReportOf{Job: j.Job, Set: j.Set, SerialNumber: j.SerialNumber, Symptom: j.Symptom, Opened: j.Opened, Closed: j.Closed})
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Render(w, "reports", m); err != nil {
		h.fail(w, r, err)
	}
}

// reportInWork serves the report of the job in hand; a browser is led to the list
// where no job is open.
func (h *handler) reportInWork(w http.ResponseWriter, r *http.Request) {
	if _, open := h.opts.Bench.Snapshot().Job(""); !open && wantsPage(r) {
		http.Redirect(w, r, "/reports", http.StatusSeeOther)
		return
	}
	h.report(w, r)
}
