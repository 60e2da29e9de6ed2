package dashboards

import (
	"context"
	"net/http"
	"strings"

	"steadyrail/dashboards/web"
)

// ColdChecker does the cold checks that need more than one act. In every method
// an empty job means the one opened last.
type ColdChecker interface {
	// Cold returns what the page of cold checks shows.
	Cold(job string) web.Cold
	// Reckon answers a card; nothing is recorded.
	Reckon(ask DischargeAsk) (web.DischargeCard, error)
	// ProveMeter waits until the channel shows a source known to be live, and
	// records whether it did.
	ProveMeter(ctx context.Context, job string, ask DischargeAsk) (Result, error)
	// BeginDischarge puts the channel on the capacitor and begins to watch it.
	BeginDischarge(ctx context.Context, job string, ask DischargeAsk) (Result, error)
	// EndDischarge ends the watch and records what was measured.
	EndDischarge(ctx context.Context, job string) (Result, error)
}

// DischargeAsk is what a person types of a discharge. Figures are texts, with
// their prefix and unit or without.
type DischargeAsk struct {
	Channel string `json:"channel"`
	What    string `json:"what,omitempty"`    // the capacitor: "C1, bulk"
	Rail    string `json:"rail,omitempty"`    // that it is on, by name or number; empty: a point of its own
	Ohms    string `json:"ohms,omitempty"`    // "2.2k"
	Farads  string `json:"farads,omitempty"`  // "220u"
	Volts   string `json:"volts,omitempty"`   // "325"
	Level   string `json:"level,omitempty"`   // touch, work, ohms, or volts; empty: work
	Watts   string `json:"watts,omitempty"`   // "5"; empty: not stated
	Source  string `json:"source,omitempty"`  // output of a supply that is on, to prove the meter: "supply/1"
	Battery string `json:"battery,omitempty"` // volts of a battery, to prove it: "9"
}

// dischargeKeys are the fields of the card's form.
var dischargeKeys = []string{"ohms", "farads", "volts", "level", "watts", "channel", "what", "rail"}

func askOf(get func(string) string) DischargeAsk {
	f := func(key string) string { return strings.TrimSpace(short(get(key))) }
	return DischargeAsk{
		Channel: f("channel"), What: f("what"), Rail: f("rail"), Ohms: f("ohms"), Farads: f("farads"), Volts: f("volts"),
		Level: f("level"), Watts: f("watts"), Source: f("source"), Battery: f("battery"),
	}
}

func (h *handler) cold() (ColdChecker, error) {
	if h.opts.Cold == nil {
		return nil, &Error{Kind: NotFound, Detail: "this daemon does no cold checks"}
	}
	return h.opts.Cold, nil
}

// getDischarge answers GET /api/v1/discharge.
func (h *handler) getDischarge(w http.ResponseWriter, r *http.Request) {
	c, err := h.cold()
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, c.Cold(r.URL.Query().Get("job")))
}

// getDischargeCard answers GET /api/v1/discharge/card.
func (h *handler) getDischargeCard(w http.ResponseWriter, r *http.Request) {
	c, err := h.cold()
	if err != nil {
		h.fail(w, r, err)
		return
	}
	card, err := c.Reckon(askOf(r.URL.Query().Get))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, card)
}

type dischargeBody struct {
	Job  string `json:"job"`
	Step string `json:"step"` // prove, begin or end
	DischargeAsk
}

// postDischarge answers POST /api/v1/discharge.
func (h *handler) postDischarge(w http.ResponseWriter, r *http.Request) {
	var b dischargeBody
	if err := read(r, &b); err != nil {
		h.fail(w, r, err)
		return
	}
	res, err := h.dischargeStep(r.Context(), b)
	h.done(w, r, http.StatusCreated, res, err)
}

func (h *handler) dischargeStep(ctx context.Context, b dischargeBody) (Result, error) {
	c, err := h.cold()
	if err != nil {
		return Result{}, err
	}
	switch b.Step {
	case "prove":
		return c.ProveMeter(ctx, b.Job, b.DischargeAsk)
	case "begin":
		return c.BeginDischarge(ctx, b.Job, b.DischargeAsk)
	case "end":
		return c.EndDischarge(ctx, b.Job)
	}
	return Result{}, &Error{Kind: Invalid, Detail: "there is no step " + clip(b.Step), Hint: "steps: prove, begin, end"}
}

// formDischarge takes the forms of the page.
func (h *handler) formDischarge(w http.ResponseWriter, r *http.Request) {
	_, err := h.dischargeStep(r.Context(), dischargeBody{Job: r.PostFormValue("job"), Step: r.PostFormValue("step"), DischargeAsk: askOf(r.PostFormValue)})
	h.back(w, r, err)
}

// addCold adds what the page of cold checks shows; its card is asked for by the
// address, for nothing is done by it.
func (h *handler) addCold(r *http.Request, m *web.Model) {
	if h.opts.Cold == nil {
		return
	}
	c := h.opts.Cold.Cold(m.Job)
	m.Cold = &c
	query := r.URL.Query()
	if !query.Has("ohms") {
		return
	}
	m.ColdAsked = &web.ColdAnswer{Asked: map[string]string{}}
	for _, key := range dischargeKeys {
		m.ColdAsked.Asked[key] = short(query.Get(key))
	}
	card, err := h.opts.Cold.Reckon(askOf(query.Get))
	if err != nil {
		m.ColdAsked.Wrong = err.Error()
		return
	}
	m.ColdAsked.Card = &card
}
