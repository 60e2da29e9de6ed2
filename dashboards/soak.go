package dashboards

import (
	"context"
	"net/http"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// Soaker runs soaks by a plan. An empty job means the one opened last.
type Soaker interface {
	// SoakState says how far the soak is, with or without a plan.
	SoakState(job string) (capture.RegimenState, error)
	// PlanSoak starts a plan, or lets one go on after a restart. Where something
	// would be switched, it changes nothing at first and answers with a permit; the
	// same request with the permit's code does it.
	PlanSoak(ctx context.Context, job string, r SoakRequest) (SoakAnswer, error)
}

// SoakRequest asks for a plan to be started, or with Resume to go on.
type SoakRequest struct {
	Plan   *capture.Regimen `json:"plan,omitempty"`
	Resume bool             `json:"resume,omitempty"`
	Permit string           `json:"permit,omitempty"` // its code: a person agreed
	By     string           `json:"by,omitempty"`
}

// SoakAnswer is what was done, or the permit that a person has to agree to first.
type SoakAnswer struct {
	Result
	Permit *Permit `json:"permit,omitempty"` // nil: it was done
}

func (h *handler) soaker() (Soaker, error) {
	if h.opts.Soak == nil {
		return nil, &Error{Kind: NotFound, Detail: "this daemon runs no plans of soaks"}
	}
	return h.opts.Soak, nil
}

// getSoak answers GET /api/v1/soak.
func (h *handler) getSoak(w http.ResponseWriter, r *http.Request) {
	s, err := h.soaker()
	if err != nil {
		h.fail(w, r, err)
		return
	}
	state, err := s.SoakState(r.URL.Query().Get("job"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, state)
}

// postSoak answers POST /api/v1/soak.
func (h *handler) postSoak(w http.ResponseWriter, r *http.Request) {
	var body struct {
		Job string `json:"job"`
		SoakRequest
	}
	s, err := h.soaker()
	if err == nil {
		err = read(r, &body)
	}
	if err != nil {
		h.fail(w, r, err)
		return
	}
	answer, err := s.PlanSoak(r.Context(), body.Job, body.SoakRequest)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusCreated, answer)
}

// formSoak starts a plan from the page, or lets it go on: what would be switched
// stands there first, and one button carries the permit.
func (h *handler) formSoak(w http.ResponseWriter, r *http.Request) {
	s, err := h.soaker()
	if err != nil {
		h.back(w, r, err)
		return
	}
	f := r.PostFormValue
	req := SoakRequest{Resume: f("resume") != "", Permit: f("permit")}
	if !req.Resume && req.Permit == "" {
		plan, err := capture.TypedRegimen(f)
		if err != nil {
			h.back(w, r, &Error{Kind: Invalid, Detail: "plan of the soak", Err: err})
			return
		}
		req.Plan = &plan
	}
	answer, err := s.PlanSoak(r.Context(), f("job"), req)
	if err != nil || answer.Permit == nil {
		h.back(w, r, err)
		return
	}
	hidden := [][2]string{{"nonce", f("nonce")}, {"back", f("back")}, {"job", f("job")}, {"permit", answer.Permit.Code}}
	if req.Resume {
		hidden = append(hidden, [2]string{"resume", "yes"})
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_ = h.pages.Problem(w, web.Trouble{
		Title: "Let the plan switch?", Detail: answer.Permit.Say, Hint: strings.Join(answer.Permit.Notes, " "), Status: http.StatusOK, Back: ownPath(f("back")),
		Ask: &web.Question{Action: "/soak", Choices: []web.Choice{{Label: "Let it", Hidden: hidden}}},
	})
}

// soaking is what the Soak page shows; nil: there is nothing to show.
func (h *handler) soaking(job string) *capture.RegimenState {
	if h.opts.Soak == nil {
		return nil
	}
	s, err := h.opts.Soak.SoakState(job)
	if err != nil {
		return nil
	}
	return &s
}
