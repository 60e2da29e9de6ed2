package dashboards

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

// Trimmer says how a rail stands under the screwdriver. An empty job means the one
// opened last; the rail is named, or its number on the sheet from 1.
type Trimmer func(job, rail string) (capture.Trimming, error)

// getTrim answers GET /api/v1/trim?rail=, without a rail for the one in work.
func (h *handler) getTrim(w http.ResponseWriter, r *http.Request) {
	if h.opts.Trim == nil {
		h.fail(w, r, &Error{Kind: NotFound, Detail: "this daemon follows no screwdriver"})
		return
	}
	q := r.URL.Query()
	rail := q.Get("rail")
	if rail == "" {
		rail = inWork(h.opts.Bench.Snapshot(), q.Get("job"))
	}
	t, err := h.opts.Trim(q.Get("job"), rail)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, t)
}

// trimming is what the page shows; nil when there is no such rail, or nobody
// follows it.
func (h *handler) trimming(s live.Snapshot, job, rail string) *capture.Trimming {
	if h.opts.Trim == nil {
		return nil
	}
	j, open := s.Job(job)
	if !open {
		return nil
	}
	t, err := h.opts.Trim(j.Sheet.Job, rail)
	if err != nil {
		return nil
	}
	return &t
}

// trimPage serves the screen of one rail under the screwdriver. Without a rail it
// sends to the one in work.
func (h *handler) trimPage(w http.ResponseWriter, r *http.Request) {
	rail := r.URL.Query().Get("rail")
	if rail == "" {
		snap := h.opts.Bench.Snapshot()
		job := askedJob(r, snap)
		if rail = inWork(snap, job); rail != "" {
			http.Redirect(w, r, trimPath(rail, job), http.StatusSeeOther)
			return
		}
	}
	m := h.model(r, "trim", rail, "")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if m.Trimming == nil {
		w.WriteHeader(http.StatusNotFound)
	}
	if err := h.pages.Render(w, "trim", m); err != nil {
		h.fail(w, r, err)
	}
}

// trimPath is the address of the Trim page of a rail.
func trimPath(rail, job string) string {
	path := "/trim?rail=" + url.QueryEscape(rail)
	if job != "" {
		path += "&job=" + url.QueryEscape(job)
	}
	return path
}

// screwFields reads what the forms of the Trim page bring: turns, the turns of a
// trimmer, and under what a value is marked.
func screwFields(a *capture.Act, f func(string) string) error {
	switch a.Verb {
	case capture.ActTurn, capture.ActTrimmer:
		v, err := decimal(f("value"))
		if err != nil {
			return &Error{Kind: Invalid, Detail: "turns: " + clip(f("value")) + " is no number", Hint: "0.75, or -0.5 for half a turn down"}
		}
		a.Value = v
	case capture.ActMark:
		as := capture.MarkedAs{From: "typed"}
		for _, field := range []struct {
			name string
			unit capture.Unit
			to   **float64
		}{{"load", capture.Ampere, &as.Load}, {"input", capture.Volt, &as.Input}} {
			if text := strings.TrimSpace(f(field.name)); text != "" {
				v, _, err := field.unit.ParseTyped(text, capture.Point)
				if err != nil {
					return &Error{Kind: Invalid, Detail: "mark: " + field.name, Err: err}
				}
				*field.to = &v
			}
		}
		a.Text = as.Text()
	}
	return nil
}

// decimal reads a number with a point or a comma.
func decimal(s string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(s), ",", ".", 1), 64)
}
