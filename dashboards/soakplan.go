package dashboards

import (
	"net/http"
	"net/url"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/web"
)

// Planner answers how long a soak must last. An error is about the question.
type Planner func(capture.SoakQuestion) (capture.SoakPlan, error)

func (h *handler) getSoakPlan(w http.ResponseWriter, r *http.Request) {
	p, err := h.soakPlan(r.URL.Query())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, p)
}

// soakPlan reads a question, adds what the bench knows of the meter it names, and
// has it answered.
func (h *handler) soakPlan(query url.Values) (capture.SoakPlan, error) {
	if h.opts.Plan == nil {
		return capture.SoakPlan{}, &Error{Kind: NotFound, Detail: "this daemon plans no soaks"}
	}
	q, err := capture.ParseSoakQuestion(query.Get)
	if err == nil && q.Meter != "" {
		err = knownMeter(h.opts.Bench.Snapshot(), &q)
	}
	if err != nil {
		return capture.SoakPlan{}, &Error{Kind: Invalid, Err: err, Hint: "such as failed_every=24h&dip=50ms&meter=dmm"}
	}
	p, err := h.opts.Plan(q)
	if err != nil {
		return p, &Error{Kind: Invalid, Err: err}
	}
	return p, nil
}

// knownMeter fills in how a meter looks, where the question does not say it.
func knownMeter(s live.Snapshot, q *capture.SoakQuestion) error {
	var there []string
	for _, c := range s.Channels {
		info := c.Info
		if info.Quantity != capture.DCVoltage || info.Setpoint {
			continue
		}
		if string(info.ID) != q.Meter && info.ID.Instrument() != q.Meter {
			there = append(there, string(info.ID))
			continue
		}
		if q.Aperture == 0 {
			q.Aperture = info.Aperture
		}
		if q.Period == 0 {
			q.Period = info.Every
		}
		return nil
	}
	hint := ""
	if len(there) > 0 {
		hint = "; channels of volts: " + strings.Join(there, ", ")
	}
	return &Error{Kind: Invalid, Detail: "no meter " + clip(q.Meter) + " measures volts here" + hint}
}

// planned answers the form of the Job page, which asks by its address: nothing
// is done by it.
func (h *handler) planned(r *http.Request) *web.Planned {
	query := r.URL.Query()
	if !query.Has("failed_every") && !query.Has("cycles_failed") {
		return nil
	}
	p := &web.Planned{Asked: map[string]string{}}
	for _, key := range capture.SoakKeys {
		p.Asked[key] = short(query.Get(key))
	}
	var err error
	if p.Plan, err = h.soakPlan(query); err != nil {
		key, why, _ := strings.Cut(err.Error(), ": ")
		p.Wrong = strings.ReplaceAll(key, "_", " ") + ": " + why
	}
	return p
}

// short cuts what comes back into a field of a form.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40])
	}
	return s
}
