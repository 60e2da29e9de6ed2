package dashboards

import (
	"net/http"
	"net/url"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// Limiter answers what a resistor or a lamp in series lets a set do. An error is
// about the question.
type Limiter func(capture.LimiterQuestion) (web.Limited, error)

// getLimiter answers GET /api/v1/limiter.
func (h *handler) getLimiter(w http.ResponseWriter, r *http.Request) {
	l, err := h.limiter(r.URL.Query())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, l)
}

func (h *handler) limiter(query url.Values) (web.Limited, error) {
	if h.opts.Limiter == nil {
		return web.Limited{}, &Error{Kind: NotFound, Detail: "this daemon judges no limiters"}
	}
	q, err := capture.ParseLimiterQuestion(query.Get)
	var l web.Limited
	if err == nil {
		l, err = h.opts.Limiter(q)
	}
	if err != nil {
		return l, &Error{Kind: Invalid, Err: err, Hint: "such as source=325V&power=18W&ohms=120ohm, or lamp=230V 60W"}
	}
	return l, nil
}

// limitedAsked answers the form on the page of stand-ins, which asks by its
// address: nothing is done by it.
func (h *handler) limitedAsked(r *http.Request) *web.LimiterAnswer {
	query := r.URL.Query()
	a := &web.LimiterAnswer{Asked: map[string]string{}}
	if !query.Has("source") {
		return a
	}
	for _, key := range capture.LimiterKeys {
		a.Asked[key] = short(query.Get(key))
	}
	l, err := h.limiter(query)
	if err != nil {
		key, why, _ := strings.Cut(err.Error(), ": ")
		a.Wrong = strings.TrimSuffix(strings.ReplaceAll(key, "_", " ")+": "+why, ": ")
		return a
	}
	a.Answer = &l
	return a
}
