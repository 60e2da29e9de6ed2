package dashboards

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// The forms of the pages, for browsers without a script: they act and send
// back to the page. The API's bodies and these fields end in the same calls.

func (h *handler) formJob(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	o := openBody{Rails: f("rails"), Sheet: capture.Sheet{Job: strings.TrimSpace(f("job")), Set: f("set"), Symptom: f("symptom")}}
	sheet, err := o.sheet()
	if err == nil {
		_, err = h.opts.Bench.OpenJob(r.Context(), sheet)
	}
	h.back(w, r, err)
}

func (h *handler) formAct(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	a := actBody{Job: f("job"), Permit: f("permit"), Act: capture.Act{Verb: capture.Verb(f("verb")), Subject: f("subject"), Stage: capture.Stage(f("stage")), Text: f("text")}}
	if hours := strings.Replace(strings.TrimSpace(f("hours")), ",", ".", 1); hours != "" && a.Text == "start" {
		v, err := strconv.ParseFloat(hours, 64)
		if err != nil || v <= 0 || v > 10000 {
			h.back(w, r, &Error{Kind: Invalid, Detail: "hours of soak: " + clip(hours) + " is not a length", Hint: "type a number of hours, 8 or 0.5"})
			return
		}
		a.Value = v * 3600
	}
	if minutes := f("minutes"); a.Verb == capture.ActMute {
		v, err := strconv.ParseFloat(minutes, 64)
		if err != nil || !(v >= 0 && v <= capture.MostMuted.Minutes()) {
			h.back(w, r, &Error{Kind: Invalid, Detail: "minutes of a mute: " + clip(minutes) + " is not a length", Hint: "30 days at most; 0 ends it"})
			return
		}
		a.Value = v * 60
	}
	if err := screwFields(&a.Act, f); err != nil {
		h.back(w, r, err)
		return
	}
	_, err := h.act(r.Context(), a)
	h.back(w, r, err)
}

func (h *handler) formPlacement(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	hold, err := capture.ParseHold(f("hold"))
	if err != nil {
		h.back(w, r, &Error{Kind: Invalid, Err: err})
		return
	}
	p := capture.Placement{Channel: capture.ChannelID(f("channel")), Rail: f("rail"), Point: f("point"), Return: f("return"), Hold: hold}
	if f("try") != "" {
		h.tryPlacement(w, r, p)
		return
	}
	_, err = h.opts.Bench.Place(r.Context(), f("job"), p)
	h.back(w, r, err)
}

func (h *handler) formEntry(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	_, err := h.opts.Bench.Enter(r.Context(), f("job"), Typed{Rail: f("rail"), Text: f("text"), Meter: strings.TrimSpace(f("meter")), InsteadOf: f("instead_of"), Why: f("why"), Sure: f("sure") != ""})
	var two *capture.Ambiguous
	if errors.As(err, &two) {
		h.askBack(w, r, two)
		return
	}
	var doubt *Doubt
	if errors.As(err, &doubt) {
		h.askWhich(w, r, doubt, problemOf(err, "").Status)
		return
	}
	h.back(w, r, err)
}

// askBack shows both readings of a figure as buttons: nobody guesses. Either
// sends the same form with the figure that is meant.
func (h *handler) askBack(w http.ResponseWriter, r *http.Request, two *capture.Ambiguous) {
	f := r.PostFormValue
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(http.StatusBadRequest)
	_ = h.pages.Problem(w, web.Trouble{
		Title: "Which is meant?", Detail: two.Text + " on " + f("rail") + " can be read two ways. Nothing was entered.", Status: http.StatusBadRequest, Back: ownPath(f("back")),
		Ask: &web.Question{Action: "/entries", Name: "text", Values: []string{two.Fraction, two.Thousands}, Hidden: [][2]string{
			{"nonce", f("nonce")}, {"back", f("back")}, {"job", f("job")}, {"rail", f("rail")}, {"meter", f("meter")},
		}},
	})
}

// askWhich shows what may be meant by an unlikely entry, a button for each.
func (h *handler) askWhich(w http.ResponseWriter, r *http.Request, d *Doubt, status int) {
	f, title := r.PostFormValue, "Which is meant?"
	if len(d.Choices) == 1 {
		title = "Is it so?"
	}
	ask := &web.Question{Action: "/entries"}
	for _, c := range d.Choices {
		hidden := [][2]string{
			{"nonce", f("nonce")}, {"back", f("back")}, {"job", f("job")}, {"rail", c.Typed.Rail}, {"text", c.Typed.Text}, {"meter", c.Typed.Meter},
		}
		if c.Typed.Sure {
			hidden = append(hidden, [2]string{"sure", "yes"})
		}
		ask.Choices = append(ask.Choices, web.Choice{Label: c.Label, Hidden: hidden})
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_ = h.pages.Problem(w, web.Trouble{
		Title: title, Detail: d.Question + " Nothing was entered.", Status: status, Back: ownPath(f("back")), Ask: ask,
	})
}

// back sends to the page the form came from, or shows what is wrong.
func (h *handler) back(w http.ResponseWriter, r *http.Request, err error) {
	if err != nil {
		h.fail(w, r, err)
		return
	}
	http.Redirect(w, r, ownPath(r.PostFormValue("back")), http.StatusSeeOther)
}

// backOr is where a form wants to go back to, which keeps its job; a form that
// does not say goes to the page it is of.
func backOr(r *http.Request, page string) string {
	if r.PostFormValue("back") == "" {
		return page
	}
	return ownPath(r.PostFormValue("back"))
}
