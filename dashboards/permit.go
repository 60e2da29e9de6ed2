package dashboards

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// The kinds of permits for a supply's output.
const (
	PermitPower  = "power"
	PermitInject = "inject"
)

// Switcher switches a supply's output on. Off needs no permit: see [Actor.Act].
type Switcher interface {
	// Permit checks whether an output may be switched on, changes nothing, and
	// returns a code for [Switcher.SwitchOn]. The error says what is missing.
	Permit(ctx context.Context, job string, r PermitRequest) (Permit, error)
	// SwitchOn switches on what a permit was given for. The code is good once.
	SwitchOn(ctx context.Context, job string, s SwitchOn) (Result, error)
}

// PermitRequest asks whether an output may be switched on. For power the rest is
// empty. An injection, to walk a short down, says its voltage (V, at most 0.5)
// and what each of trace, part and lead may carry (A): the smallest is the limit.
type PermitRequest struct {
	Kind    string  `json:"kind"`
	Subject string  `json:"subject"` // "supply", or "psu/1" of several outputs
	Volts   float64 `json:"volts,omitempty"`
	Trace   float64 `json:"trace_amperes,omitempty"`
	Part    float64 `json:"part_amperes,omitempty"`
	Lead    float64 `json:"lead_amperes,omitempty"`
	By      string  `json:"by,omitempty"`
}

// Permit is what a person confirms: one output, one time, for a short while.
type Permit struct {
	Code  string          `json:"code"`
	Say   string          `json:"say"` // what will be done: "supply will be switched on: ..."
	Until capture.Instant `json:"until"`
	Notes []string        `json:"notes"` // cautions, to be shown beside it
}

// SwitchOn is the act that a permit was given for.
type SwitchOn struct {
	Subject string
	Permit  string // the code
	By      string
}

type permitBody struct {
	Job string `json:"job"`
	PermitRequest
}

func (h *handler) postPermit(w http.ResponseWriter, r *http.Request) {
	var p permitBody
	if err := read(r, &p); err != nil {
		h.fail(w, r, err)
		return
	}
	if p.Subject == "" {
		h.fail(w, r, &Error{Kind: Invalid, Detail: "the permit names no output", Hint: "instruments stand in /api/v1/instruments"})
		return
	}
	got, err := h.opts.Bench.Permit(r.Context(), p.Job, p.PermitRequest)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusCreated, got)
}

// formPermit asks whether an output shall go on: what will be done and what to
// mind stand there, and one button carries the code, which is good once.
func (h *handler) formPermit(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	want := PermitRequest{Kind: f("kind"), Subject: f("subject")}
	for _, figure := range []struct {
		name string
		into *float64
	}{{"volts", &want.Volts}, {"trace", &want.Trace}, {"part", &want.Part}, {"lead", &want.Lead}} {
		text := strings.Replace(strings.TrimSpace(f(figure.name)), ",", ".", 1)
		v, err := strconv.ParseFloat(text, 64)
		if text != "" && err != nil {
			h.back(w, r, &Error{Kind: Invalid, Detail: figure.name + ": " + clip(text) + " is not a figure", Hint: "type volts or amperes, such as 0.3"})
			return
		}
		*figure.into = v
	}
	got, err := h.opts.Bench.Permit(r.Context(), f("job"), want)
	if err != nil {
		h.back(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_ = h.pages.Problem(w, web.Trouble{
		Title: "Switch it on?", Detail: got.Say, Hint: strings.Join(got.Notes, " "), Status: http.StatusOK, Back: ownPath(f("back")),
		Ask: &web.Question{Action: "/acts", Choices: []web.Choice{{Label: "Switch it on", Hidden: [][2]string{
			{"nonce", f("nonce")}, {"back", f("back")}, {"job", f("job")}, {"verb", string(capture.ActOutput)}, {"subject", want.Subject}, {"text", "on"}, {"permit", got.Code},
		}}}},
	})
}

// formLimits sets what was filled in: set-points and protection.
func (h *handler) formLimits(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	var list []string
	for _, name := range []string{"volts", "amperes", capture.OverVoltage, capture.OverCurrent} {
		if v := strings.Replace(strings.TrimSpace(f(name)), ",", ".", 1); v != "" {
			list = append(list, name+" "+v)
		}
	}
	_, err := h.act(r.Context(), actBody{Job: f("job"), Act: capture.Act{Verb: capture.ActLimits, Subject: f("subject"), Text: strings.Join(list, ", ")}})
	h.back(w, r, err)
}
