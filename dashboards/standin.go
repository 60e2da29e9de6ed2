package dashboards

import (
	"context"
	"errors"
	"io"
	"net/http"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// StandInAsk is a question about converters. Text is YAML, or JSON of the same
// keys: rail, need and candidates.
type StandInAsk struct {
	Text    []byte
	FromJob bool   // what was measured in Job takes the place of what Text states
	Job     string // empty: the one in hand
	Keep    bool   // keep the judgements in the job's record
	Waves   []WaveFile
}

// WaveFile is a capture of an oscilloscope as it was uploaded.
type WaveFile struct {
	Shows  string // "start", "load step", "ripple", "input"; "": found by its data
	Name   string // of the file
	Column string // the channel; "": the one in volts
	Parted string // what parts its cells: comma, semicolon, tab; "": found by its data
	Data   []byte
}

// StandInsJudged is the answer.
type StandInsJudged struct {
	Judgements []web.StandIn      `json:"judgements"`
	Taken      []web.StandInTaken `json:"taken,omitempty"` // from the job
	Kept       []string           `json:"kept,omitempty"`  // what was recorded
}

// StandInJudge judges whether converters may stand in for a dead one. An error of
// type [*Error] keeps its kind; any other is about the question.
type StandInJudge func(context.Context, StandInAsk) (StandInsJudged, error)

// WaveParts are the names under which captures are uploaded, and what they show.
var WaveParts = []struct{ Name, Shows string }{{"start", "start"}, {"step", "load step"}, {"ripple", "ripple"}, {"input", "input"}, {"wave", ""}}

const (
	// maxUpload bounds a question with captures, in bytes.
	maxUpload = 24 << 20
	// inMemory is how much of it is held in memory while it is read.
	inMemory = 8 << 20
)

// postStandIn answers POST /api/v1/standin. Nothing is recorded unless keep is
// asked for.
func (h *handler) postStandIn(w http.ResponseWriter, r *http.Request) {
	ask, err := readStandInAsk(r)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	out, err := h.standIn(r.Context(), ask)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, out)
}

// readStandInAsk reads a text with its options in the address, or an upload.
func readStandInAsk(r *http.Request) (ask StandInAsk, err error) {
	if isUpload(r) {
		if err := r.ParseMultipartForm(inMemory); err != nil {
			return ask, unreadable(err)
		}
		ask.Text, ask.Job, ask.Keep = []byte(r.PostFormValue("text")), r.PostFormValue("job"), r.PostFormValue("keep") != ""
		ask.FromJob = ask.Job != "" || ask.Keep
		ask.Waves, err = readWaves(r)
		return ask, err
	}
	query := r.URL.Query()
	ask.Job, ask.Keep = query.Get("job"), query.Get("keep") != ""
	ask.FromJob = query.Has("job") || ask.Keep
	if ask.Text, err = io.ReadAll(r.Body); err != nil {
		return ask, unreadable(err)
	}
	return ask, nil
}

// readWaves reads the captures of an upload; a field without a file is none.
func readWaves(r *http.Request) (out []WaveFile, err error) {
	for _, part := range WaveParts {
		for _, head := range r.MultipartForm.File[part.Name] {
			if head.Filename == "" && head.Size == 0 {
				continue
			}
			f, err := head.Open()
			if err != nil {
				return nil, unreadable(err)
			}
			data, err := io.ReadAll(f)
			_ = f.Close() // it was only read
			if err != nil {
				return nil, unreadable(err)
			}
			out = append(out, WaveFile{Shows: part.Shows, Name: short(head.Filename), Column: r.PostFormValue("column"), Parted: r.PostFormValue("separator"), Data: data})
		}
	}
	return out, nil
}

func (h *handler) standIn(ctx context.Context, ask StandInAsk) (StandInsJudged, error) {
	if h.opts.StandIn == nil {
		return StandInsJudged{}, &Error{Kind: NotFound, Detail: "this daemon judges no converters"}
	}
	out, err := h.opts.StandIn(ctx, ask)
	if err != nil {
		return out, asInvalid(err, "the keys are rail, need and candidates; configs/standin.yaml is a complete file to copy")
	}
	return out, nil
}

// standInPage draws the page, with the answer of its limiter's form.
func (h *handler) standInPage(w http.ResponseWriter, r *http.Request) {
	m := h.model(r, "standin", "", "")
	m.Limiter = h.limitedAsked(r)
	if job := r.URL.Query().Get("kept"); job != "" {
		list, err := h.standInsKept(r.Context(), job)
		if err != nil {
			h.fail(w, r, err)
			return
		}
		m.Kept = &web.StandInsKept{Job: short(job), List: list}
	}
	h.draw(w, r, "standin", m)
}

// formStandIn answers the form with its own page: what was pasted stays there.
func (h *handler) formStandIn(w http.ResponseWriter, r *http.Request) {
	m := h.model(r, "standin", "", "")
	m.Limiter = h.limitedAsked(r)
	a := &web.StandInAnswer{Text: r.PostFormValue("text"), Job: r.PostFormValue("job")}
	m.StandIn = a
	ask := StandInAsk{Text: []byte(a.Text), Job: a.Job, FromJob: a.Job != "", Keep: a.Job != "" && r.PostFormValue("keep") != ""}
	var err error
	if isUpload(r) {
		ask.Waves, err = readWaves(r)
	}
	if err == nil {
		var out StandInsJudged
		out, err = h.standIn(r.Context(), ask)
		a.List, a.Taken, a.Kept = out.Judgements, out.Taken, out.Kept
	}
	if err != nil {
		a.Wrong = err.Error()
	}
	h.draw(w, r, "standin", m)
}

func (h *handler) draw(w http.ResponseWriter, r *http.Request, page string, m web.Model) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Render(w, page, m); err != nil {
		h.fail(w, r, err)
	}
}

// asInvalid keeps the kind that an error has; one without a kind is about what
// was asked.
func asInvalid(err error, hint string) error {
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return &Error{Kind: Invalid, Err: err, Hint: hint}
}

// getStandIns answers GET /api/v1/jobs/{job}/standins.
func (h *handler) getStandIns(w http.ResponseWriter, r *http.Request) {
	list, err := h.standInsKept(r.Context(), r.PathValue("job"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"stand_ins": list})
}

func (h *handler) standInsKept(ctx context.Context, job string) ([]capture.StandInJudged, error) {
	if h.opts.StandInsKept == nil {
		return nil, &Error{Kind: NotFound, Detail: "this daemon keeps no judgements of converters"}
	}
	list, err := h.opts.StandInsKept(ctx, job)
	return append([]capture.StandInJudged{}, list...), err
}
