package dashboards

import (
	"io"
	"net/http"

	"steadyrail/dashboards/web"
)

// StandInJudge judges whether converters may stand in for a dead one. The text
// is YAML, or JSON of the same keys: rail, need and candidates. An error is about
// the text.
type StandInJudge func(text []byte) ([]web.StandIn, error)

// postStandIn answers POST /api/v1/standin. Nothing is recorded.
func (h *handler) postStandIn(w http.ResponseWriter, r *http.Request) {
	text, err := io.ReadAll(r.Body)
	if err != nil {
		h.fail(w, r, unreadable(err))
		return
	}
	list, err := h.standIn(text)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"judgements": list})
}

func (h *handler) standIn(text []byte) ([]web.StandIn, error) {
	if h.opts.StandIn == nil {
		return nil, &Error{Kind: NotFound, Detail: "this daemon judges no converters"}
	}
	list, err := h.opts.StandIn(text)
	if err != nil {
		return nil, &Error{Kind: Invalid, Err: err, Hint: "the keys are rail, need and candidates; configs/standin.yaml is a complete file to copy"}
	}
	return list, nil
}

// formStandIn answers the form with its own page: what was pasted stays there.
func (h *handler) formStandIn(w http.ResponseWriter, r *http.Request) {
	m := h.model(r, "standin", "", "")
	m.StandIn = &web.StandInAnswer{Text: r.PostFormValue("text")}
	list, err := h.standIn([]byte(m.StandIn.Text))
	if m.StandIn.List = list; err != nil {
		m.StandIn.Wrong = err.Error()
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Render(w, "standin", m); err != nil {
		h.fail(w, r, err)
	}
}
