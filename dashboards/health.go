package dashboards

import (
	"context"
	"net/http"

	"steadyrail/dashboards/web"
)

// Examiner looks at the bench itself: what it hangs on, and what it is configured
// to. Its methods must be safe for concurrent use.
type Examiner interface {
	// Health looks at the whole bench. It opens no instrument and tells nobody
	// anything; it may take seconds.
	Health(context.Context) (web.Health, error)
	// Configuration tells what is in force and what [Actor.Reload] would come to
	// now. It changes nothing.
	Configuration() web.Configuration
}

func (h *handler) health(ctx context.Context) (web.Health, error) {
	if h.opts.Health == nil {
		return web.Health{}, &Error{Kind: NotFound, Detail: "this daemon does not look at its bench", Hint: "steadyrail doctor"}
	}
	return h.opts.Health.Health(ctx)
}

// getDoctor answers GET /api/v1/doctor.
func (h *handler) getDoctor(w http.ResponseWriter, r *http.Request) {
	out, err := h.health(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, out)
}

// getConfiguration answers GET /api/v1/configuration.
func (h *handler) getConfiguration(w http.ResponseWriter, r *http.Request) {
	if h.opts.Health == nil {
		h.fail(w, r, &Error{Kind: NotFound, Detail: "this daemon does not tell its configuration"})
		return
	}
	h.answer(w, r, http.StatusOK, h.opts.Health.Configuration())
}

// healthPage looks at the bench whenever it is opened.
func (h *handler) healthPage(w http.ResponseWriter, r *http.Request) {
	found, err := h.health(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	m := h.model(r, "health", "", "")
	m.Health = &web.BenchHealth{Health: found, Configuration: h.opts.Health.Configuration()}
	h.draw(w, r, "health", m)
}

// formReload is the button: it answers with a page, for what came of it must be
// read.
func (h *handler) formReload(w http.ResponseWriter, r *http.Request) {
	res, err := h.opts.Bench.Reload(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_ = h.pages.Problem(w, web.Trouble{Title: "Reloaded", Detail: res.Say, Status: http.StatusOK, Back: backOr(r, "/health")})
}
