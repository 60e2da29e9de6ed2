package dashboards

import (
	"context"
	"net/http"
	"strconv"

	"steadyrail/capture/walk"
)

// Walker leads from rail to rail. An empty job means the one opened last.
type Walker interface {
	// Walk returns where the walk of a job stands once something is newer than
	// what the caller has seen, or after some seconds. A job without a walk gives
	// the zero view.
	Walk(ctx context.Context, job string, after uint64) (WalkView, error)
	// DoWalk begins a walk, ends it, or presses its pedal.
	DoWalk(ctx context.Context, job string, a WalkAct) (Result, error)
}

// WalkView is a walk as it stands. Seq grows with every change.
type WalkView struct {
	Seq uint64 `json:"seq"`
	walk.View
}

// WalkAct is what is asked of a walk.
type WalkAct struct {
	Do    string `json:"do"`              // begin, press, skip, again or end
	Meter string `json:"meter,omitempty"` // begin: instrument; empty: the first that can
	Both  bool   `json:"both,omitempty"`  // begin: ohms both ways round
	By    string `json:"by,omitempty"`
}

// getWalk answers GET /api/v1/walk.
func (h *handler) getWalk(w http.ResponseWriter, r *http.Request) {
	if h.opts.Walk == nil {
		h.fail(w, r, errNoWalk)
		return
	}
	after := uint64(0)
	if s := r.URL.Query().Get("after"); s != "" {
		var err error
		if after, err = strconv.ParseUint(s, 10, 64); err != nil {
			h.fail(w, r, &Error{Kind: Invalid, Detail: "after: " + clip(s) + " is no number of a change", Hint: "take seq of the last answer"})
			return
		}
	}
	v, err := h.opts.Walk.Walk(r.Context(), r.URL.Query().Get("job"), after)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, v)
}

var errNoWalk = &Error{Kind: NotFound, Detail: "this daemon walks no rails"}

type walkBody struct {
	Job string `json:"job"`
	WalkAct
}

// postWalk answers POST /api/v1/walk.
func (h *handler) postWalk(w http.ResponseWriter, r *http.Request) {
	var b walkBody
	if err := read(r, &b); err != nil {
		h.fail(w, r, err)
		return
	}
	if h.opts.Walk == nil {
		h.fail(w, r, errNoWalk)
		return
	}
	res, err := h.opts.Walk.DoWalk(r.Context(), b.Job, b.WalkAct)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, res)
}

// formWalk answers the form of the page that begins and ends a walk.
func (h *handler) formWalk(w http.ResponseWriter, r *http.Request) {
	if h.opts.Walk == nil {
		h.fail(w, r, errNoWalk)
		return
	}
	a := WalkAct{Do: r.PostFormValue("do"), Meter: r.PostFormValue("meter"), Both: r.PostFormValue("both") != ""}
	if _, err := h.opts.Walk.DoWalk(r.Context(), r.PostFormValue("job"), a); err != nil {
		h.fail(w, r, err)
		return
	}
	http.Redirect(w, r, backOr(r, "/walk"), http.StatusSeeOther)
}

// walkNow is the walk as the page draws it: nobody's when there is none.
func (h *handler) walkNow(r *http.Request, job string) walk.View {
	if h.opts.Walk == nil {
		return walk.View{}
	}
	v, err := h.opts.Walk.Walk(r.Context(), job, 0)
	if err != nil {
		return walk.View{} // no job is open, which the page says by itself
	}
	return v.View
}
