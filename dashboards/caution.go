package dashboards

import (
	"net/http"
	"slices"

	"steadyrail/capture"
)

// getCautions answers GET /api/v1/cautions: what is to be read in the stage that
// a job is in, and was not yet.
func (h *handler) getCautions(w http.ResponseWriter, r *http.Request) {
	id := r.URL.Query().Get("job")
	j, ok := h.opts.Bench.Snapshot().Job(id)
	if !ok {
		h.fail(w, r, &Error{Kind: NotFound, Detail: "there is no open job " + clip(id)})
		return
	}
	due := capture.CautionsDue(j.Stage, j.Sheet.Rails, func(key string) bool { return slices.Contains(j.Cautioned, key) })
	if due == nil {
		due = []capture.Caution{}
	}
	h.answer(w, r, http.StatusOK, map[string]any{"stage": j.Stage, "cautions": due})
}
