package dashboards

import (
	"net/http"

	"steadyrail/dashboards/web"
)

// notifierShape is how a notifier fares.
type notifierShape struct {
	Name    string  `json:"name"`
	Kind    string  `json:"kind"`
	Up      *bool   `json:"up"` // null before the first attempt
	Queued  int     `json:"queued"`
	Sent    uint64  `json:"sent"`
	Tests   uint64  `json:"tests"`  // that arrived; they are not in sent
	Failed  uint64  `json:"failed"` // given up or pushed out of a full queue
	Urgent  uint64  `json:"failed_urgent"`
	Problem string  `json:"problem,omitempty"`
	Failing float64 `json:"failing_seconds"` // wall time
}

func (h *handler) getNotifiers(w http.ResponseWriter, r *http.Request) {
	list := []notifierShape{}
	for _, n := range h.opts.Bench.Snapshot().Notifiers {
		s := notifierShape{Name: n.Name, Kind: n.Kind, Queued: n.Queued, Sent: n.Sent, Tests: n.Tests, Failed: n.Failed, Urgent: n.Urgent, Problem: n.Problem, Failing: n.Failing.Seconds()}
		if n.Tried {
			up := !n.Lost()
			s.Up = &up
		}
		list = append(list, s)
	}
	h.answer(w, r, http.StatusOK, map[string]any{"notifiers": list})
}

func (h *handler) postNotifierTest(w http.ResponseWriter, r *http.Request) {
	res, err := h.opts.Bench.TestNotifier(r.Context(), r.PathValue("name"))
	h.done(w, r, http.StatusOK, res, err)
}

// formNotifierTest is the button for browsers without a script: it answers with
// a page, for what came back must be read.
func (h *handler) formNotifierTest(w http.ResponseWriter, r *http.Request) {
	res, err := h.opts.Bench.TestNotifier(r.Context(), r.PostFormValue("name"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_ = h.pages.Problem(w, web.Trouble{Title: "The test arrived", Detail: res.Say, Status: http.StatusOK, Back: ownPath(r.PostFormValue("back"))})
}
