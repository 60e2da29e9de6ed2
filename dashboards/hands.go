package dashboards

import (
	"encoding/json"
	"net/http"
	"strings"

	"steadyrail/dashboards/web"
)

// Hands move what lies on a simulated bench: probes, parts, the trimmer, the
// supply's leads. A real bench has hands of its own.
type Hands interface {
	Look() web.Hands
	// Do does what the words say, such as probe dmm TP5 clip, and says what was
	// done. An error is about the words.
	Do(words []string) (say string, err error)
}

// handsRoutes are served where there is a simulated bench. They are no part of
// the API: nothing of a job is done by them.
func (h *handler) handsRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /demo", h.withToken(func(w http.ResponseWriter, r *http.Request) { h.showHands(w, r, web.HandsAnswer{}) }))
	mux.HandleFunc("POST /demo", h.acting(h.formHands))
	mux.HandleFunc("GET /demo/hands", func(w http.ResponseWriter, r *http.Request) { h.answer(w, r, http.StatusOK, h.opts.Hands.Look()) })
	mux.HandleFunc("POST /demo/hands", h.acting(h.postHands))
}

func (h *handler) showHands(w http.ResponseWriter, r *http.Request, a web.HandsAnswer) {
	m := h.model(r, "demo", "", "")
	a.Hands = h.opts.Hands.Look()
	m.Path, m.HandsAnswer = "/demo", &a
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Render(w, "demo", m); err != nil {
		h.fail(w, r, err)
	}
}

// formHands does what the form says, whose fields called do are the words, and
// shows the bench as it is then.
func (h *handler) formHands(w http.ResponseWriter, r *http.Request) {
	if err := parseForm(r); err != nil {
		h.fail(w, r, unreadable(err))
		return
	}
	say, err := h.opts.Hands.Do(strings.Fields(strings.Join(r.PostForm["do"], " ")))
	if err != nil {
		h.showHands(w, r, web.HandsAnswer{Wrong: err.Error()})
		return
	}
	h.showHands(w, r, web.HandsAnswer{Said: say})
}

// postHands answers POST /demo/hands: {"do": ["probe", "dmm", "TP5"]}.
func (h *handler) postHands(w http.ResponseWriter, r *http.Request) {
	var ask struct {
		Do []string `json:"do"`
	}
	if err := json.NewDecoder(r.Body).Decode(&ask); err != nil {
		h.fail(w, r, unreadable(err))
		return
	}
	say, err := h.opts.Hands.Do(ask.Do)
	if err != nil {
		h.fail(w, r, &Error{Kind: Invalid, Detail: err.Error()})
		return
	}
	h.answer(w, r, http.StatusOK, Result{Say: say})
}
