package dashboards

import (
	"context"
	"net/http"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/chart"
	"steadyrail/dashboards/web"
)

// Earther knows which low leads are tied to earth, and what would short two nets.
type Earther interface {
	// MayPlace judges a placement before the lead goes on, and records nothing.
	MayPlace(ctx context.Context, job string, p capture.Placement) (MayPlace, error)
	// Lows lists the low leads that stand on a job's board; none without the job.
	Lows(job string) []chart.Low
}

// MayPlace tells whether a lead may go on as far as earth, shared lows and the
// rating of its instrument are concerned.
type MayPlace struct {
	Job      string   `json:"job"`
	OK       bool     `json:"ok"`
	Say      string   `json:"say"`      // one line
	Loop     []string `json:"loop"`     // the wires of the short, one after the other; empty when it is none
	Advice   string   `json:"advice"`   // what may be done about it; empty when ok
	Cautions []string `json:"cautions"` // two lines at most
}

// checkPlacement answers GET /api/v1/placements/check.
func (h *handler) checkPlacement(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	p := capture.Placement{Channel: capture.ChannelID(q.Get("channel")), Rail: q.Get("rail"), Point: q.Get("point"), Return: q.Get("return")}
	if s := q.Get("hold"); s != "" {
		hold, err := capture.ParseHold(s)
		if err != nil {
			h.fail(w, r, &Error{Kind: Invalid, Err: err})
			return
		}
		p.Hold = hold
	}
	if p.Channel == "" {
		h.fail(w, r, &Error{Kind: Invalid, Detail: "the placement names no channel", Hint: "?channel=dmm/volts&rail=…&return=…; channels stand in /api/v1/instruments"})
		return
	}
	may, err := h.opts.Bench.MayPlace(r.Context(), q.Get("job"), p)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, may)
}

// tryPlacement answers the form's question before the lead goes on. Where it may,
// one button says that it is on now.
func (h *handler) tryPlacement(w http.ResponseWriter, r *http.Request, p capture.Placement) {
	f := r.PostFormValue
	may, err := h.opts.Bench.MayPlace(r.Context(), f("job"), p)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	page := web.Trouble{Title: "It must not go on", Detail: may.Say, Hint: strings.TrimSpace(may.Advice + " " + strings.Join(may.Cautions, " ")), Status: http.StatusOK, Back: ownPath(f("back"))}
	if may.OK {
		page.Title = "It may go on"
		page.Ask = &web.Question{Action: "/placements", Choices: []web.Choice{{Label: "It is on now: place it", Hidden: [][2]string{
			{"nonce", f("nonce")}, {"back", f("back")}, {"job", f("job")}, {"channel", f("channel")}, {"rail", f("rail")}, {"point", f("point")}, {"return", f("return")}, {"hold", f("hold")},
		}}}}
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Problem(w, page); err != nil {
		h.fail(w, r, err)
	}
}
