package dashboards

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"

	"steadyrail/capture"
)

// read decodes the JSON body of an act. Unknown members are refused: a
// misspelt one would otherwise be an act without it.
func read(r *http.Request, into any) error {
	if kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); strings.TrimSpace(kind) != "application/json" {
		return &Error{Kind: Invalid, Detail: "the body must be application/json, not " + clip(kind)}
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return unreadable(err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return &Error{Kind: Invalid, Detail: "the body holds more than one document"}
	}
	return nil
}

// unreadable sorts the errors of reading a body.
func unreadable(err error) error {
	if tooSlow(err) {
		return &Error{Kind: Invalid, Detail: "the body did not come in time", Err: err, Hint: "send it in one go"}
	}
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return &Error{Kind: TooLarge, Err: err, Hint: "an act needs 64 KiB at most"}
	}
	return &Error{Kind: Invalid, Detail: "read the body", Err: err, Hint: "what it may hold stands in /api/v1/openapi.json"}
}

type openBody struct {
	capture.Sheet
	Rails string `json:"rails"` // the one line: "+5 2%, +12 5%"; hides the sheet's own member
	// RailList takes complete rails instead of the line.
	RailList []capture.Rail `json:"rail_list"`
}

// sheet completes the sheet with the rails of the line.
func (o openBody) sheet() (capture.Sheet, error) {
	s := o.Sheet
	s.Rails = o.RailList
	if strings.TrimSpace(s.Job) == "" {
		return s, &Error{Kind: Invalid, Detail: "the job has no number", Hint: "give it one, such as AB-0147"}
	}
	if o.Rails != "" {
		rails, err := capture.ParseRails(o.Rails)
		if err != nil {
			return s, &Error{Kind: Invalid, Err: err, Hint: `rails are written like "+5 2%, +12 5%, -12 5%, 3.3 3%"`}
		}
		s.Rails = append(s.Rails, rails...)
	}
	if len(s.Rails) == 0 {
		return s, &Error{Kind: Invalid, Detail: "the job has no rails", Hint: `rails are written like "+5 2%, +12 5%, -12 5%, 3.3 3%"`}
	}
	for _, r := range s.Rails {
		if err := r.Validate(); err != nil {
			return s, &Error{Kind: Invalid, Err: err}
		}
	}
	return s, nil
}

func (h *handler) postJob(w http.ResponseWriter, r *http.Request) {
	var o openBody
	if err := read(r, &o); err != nil {
		h.fail(w, r, err)
		return
	}
	sheet, err := o.sheet()
	if err != nil {
		h.fail(w, r, err)
		return
	}
	res, err := h.opts.Bench.OpenJob(r.Context(), sheet)
	h.done(w, r, http.StatusCreated, res, err)
}

type placeBody struct {
	Job string `json:"job"`
	capture.Placement
}

func (h *handler) postPlacement(w http.ResponseWriter, r *http.Request) {
	var p placeBody
	if err := read(r, &p); err != nil {
		h.fail(w, r, err)
		return
	}
	if p.Channel == "" {
		h.fail(w, r, &Error{Kind: Invalid, Detail: "the placement names no channel", Hint: "channels stand in /api/v1/instruments"})
		return
	}
	res, err := h.opts.Bench.Place(r.Context(), p.Job, p.Placement)
	h.done(w, r, http.StatusCreated, res, err)
}

type entryBody struct {
	Job  string `json:"job"`
	Note string `json:"note"` // a free line; then the rest must be empty
	entryMore
	Typed
}

func (h *handler) postEntry(w http.ResponseWriter, r *http.Request) {
	if isFile(r) {
		h.postFile(w, r)
		return
	}
	var e entryBody
	if err := read(r, &e); err != nil {
		h.fail(w, r, err)
		return
	}
	var res Result
	var err error
	switch act := e.act(); {
	case act != nil:
		act.By = e.By
		res, err = h.opts.Bench.Act(r.Context(), e.Job, *act)
	case e.Note != "" && e.Text == "":
		res, err = h.opts.Bench.Act(r.Context(), e.Job, capture.Act{Verb: capture.ActNote, Text: e.Note, By: e.By})
	case (e.Text != "" || e.InsteadOf != "") && e.Rail != "" && e.Note == "":
		res, err = h.opts.Bench.Enter(r.Context(), e.Job, e.Typed)
	default:
		err = &Error{Kind: Invalid, Detail: "an entry is a note, a finding, an indication, a part, a rail with the text that was read, or a rail with the one it is instead of", Hint: `{"note": "…"}, {"rail": "+5 V logic", "text": "5.02"} or {"rail": "+5 V logic", "instead_of": "+12 V audio"}`}
	}
	h.done(w, r, http.StatusCreated, res, err)
}

type actBody struct {
	Job    string `json:"job"`
	Permit string `json:"permit"` // code of the permit, for an output that goes on
	capture.Act
}

// verbs lists what may be asked for over HTTP. Opening has its own route; lost
// links are the daemon's to say.
var verbs = []capture.Verb{
	capture.ActNote, capture.ActStage, capture.ActSoak, capture.ActNull, capture.ActHeard, capture.ActReset, capture.ActMute, capture.ActOutput,
	capture.ActLimits, capture.ActInput, capture.ActTurn, capture.ActLift, capture.ActPutBack, capture.ActFinding, capture.ActClose,
	capture.ActTap, capture.ActTake, capture.ActAmbient, capture.ActMark, capture.ActTrimmer, capture.ActIndication, capture.ActPart, capture.ActVouch, capture.ActPolarity, capture.ActCaution,
	capture.ActJudge,
}

// act checks what can be checked without the bench, then acts.
func (h *handler) act(ctx context.Context, a actBody) (Result, error) {
	known := false
	for _, v := range verbs {
		known = known || v == a.Verb
	}
	invalid := func(detail, hint string) (Result, error) {
		return Result{}, &Error{Kind: Invalid, Detail: detail, Hint: hint}
	}
	switch {
	case !known:
		return invalid("there is no act "+clip(string(a.Verb)), "the acts stand in /api/v1/openapi.json")
	case a.Verb == capture.ActNote && strings.TrimSpace(a.Text) == "":
		return invalid("the note is empty", "")
	case a.Verb == capture.ActStage && !a.Stage.Known():
		return invalid("there is no stage "+clip(string(a.Stage)), "stages: take-in, cold checks, isolate, live checks, stand-in, preset, trim, warm-up, soak, sign-off")
	case a.Verb == capture.ActSoak && a.Text != "start" && a.Text != "stop":
		return invalid("a soak is started or stopped, not "+clip(a.Text), "")
	case (a.Verb == capture.ActOutput || a.Verb == capture.ActInput) && a.Text != "on" && a.Text != "off":
		return invalid("an "+string(a.Verb)+" is on or off, not "+clip(a.Text), "")
	case a.Subject == "" && (a.Verb == capture.ActHeard || a.Verb == capture.ActReset || a.Verb == capture.ActMute || a.Verb == capture.ActOutput || a.Verb == capture.ActInput || a.Verb == capture.ActLimits || a.Verb == capture.ActTap || a.Verb == capture.ActTake):
		return invalid(string(a.Verb)+" needs a subject", "the alarm's identity from /api/v1/alarms, or the instrument's name")
	}
	if a.Verb == capture.ActOutput && a.Text == "on" {
		return h.opts.Bench.SwitchOn(ctx, a.Job, SwitchOn{Subject: a.Subject, Permit: a.Permit, By: a.By})
	}
	return h.opts.Bench.Act(ctx, a.Job, a.Act)
}

func (h *handler) postAct(w http.ResponseWriter, r *http.Request) {
	var a actBody
	if err := read(r, &a); err != nil {
		h.fail(w, r, err)
		return
	}
	res, err := h.act(r.Context(), a)
	h.done(w, r, http.StatusCreated, res, err)
}

func (h *handler) postReload(w http.ResponseWriter, r *http.Request) {
	res, err := h.opts.Bench.Reload(r.Context())
	h.done(w, r, http.StatusOK, res, err)
}

// done answers an act.
func (h *handler) done(w http.ResponseWriter, r *http.Request, status int, res Result, err error) {
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, status, res)
}

// answer writes a value as JSON, or a problem when it has none.
func (h *handler) answer(w http.ResponseWriter, r *http.Request, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(append(b, '\n'))
}
