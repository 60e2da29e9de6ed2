package dashboards

import (
	"context"
	"errors"
	"net/http"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// Isolator says where a job's fault is, as far as its record tells, and files
// what a person does about it. An empty job is the one opened last.
type Isolator interface {
	Search(ctx context.Context, job string) (capture.FaultSearch, error)
	File(ctx context.Context, job string, ask IsolateAsk) (Result, error)
	Boards(ctx context.Context) ([]web.BoardFile, error)
	Board(ctx context.Context, name string) (web.BoardFile, error)
}

// IsolateAsk is what a person adds to an isolation: one of its members.
type IsolateAsk struct {
	Entry   string `json:"entry,omitempty"`   // a line of the log: "lift C104", "source +5 V logic ok", "alone C104 0.3 ohm"
	Finding string `json:"finding,omitempty"` // a lifted part: the ledger's conclusion about it is filed
	Sheet   string `json:"sheet,omitempty"`   // a board sheet, as configs/board.yaml
	Board   string `json:"board,omitempty"`   // the name of a sheet that the workspace keeps
	Anew    string `json:"anew,omitempty"`    // why what was read before does not count any more
	By      string `json:"by,omitempty"`
	Sure    bool   `json:"sure,omitempty"` // it is so: [ErrLiftedEarly] is not raised
}

// ErrLiftedEarly is wrapped when a part is said to be lifted before the stage in
// which parts are lifted, until Sure is said.
var ErrLiftedEarly = errors.New("a lift belongs to the stage isolate")

// one reports whether exactly one thing is asked.
func (a IsolateAsk) one() bool {
	n := 0
	for _, s := range []string{a.Entry, a.Finding, a.Sheet, a.Board, a.Anew} {
		if s != "" {
			n++
		}
	}
	return n == 1
}

var errNoIsolator = &Error{Kind: NotFound, Detail: "this daemon isolates no faults"}

// getIsolate answers GET /api/v1/isolate. Nothing is recorded.
func (h *handler) getIsolate(w http.ResponseWriter, r *http.Request) {
	if h.opts.Isolate == nil {
		h.fail(w, r, errNoIsolator)
		return
	}
	f, err := h.opts.Isolate.Search(r.Context(), r.URL.Query().Get("job"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, f)
}

type isolateBody struct {
	Job string `json:"job"`
	IsolateAsk
}

// postIsolate answers POST /api/v1/isolate.
func (h *handler) postIsolate(w http.ResponseWriter, r *http.Request) {
	var b isolateBody
	if err := read(r, &b); err != nil {
		h.fail(w, r, err)
		return
	}
	res, err := h.file(r.Context(), b.Job, b.IsolateAsk)
	h.done(w, r, http.StatusCreated, res, err)
}

func (h *handler) file(ctx context.Context, job string, ask IsolateAsk) (Result, error) {
	switch {
	case h.opts.Isolate == nil:
		return Result{}, errNoIsolator
	case !ask.one():
		return Result{}, &Error{Kind: Invalid, Detail: "isolate: say one of entry, finding, sheet, board and anew", Hint: `such as {"entry": "lift C104"}`}
	}
	return h.opts.Isolate.File(ctx, job, ask)
}

func (h *handler) getBoards(w http.ResponseWriter, r *http.Request) {
	if h.opts.Isolate == nil {
		h.fail(w, r, errNoIsolator)
		return
	}
	list, err := h.opts.Isolate.Boards(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"boards": list})
}

func (h *handler) getBoard(w http.ResponseWriter, r *http.Request) {
	if h.opts.Isolate == nil {
		h.fail(w, r, errNoIsolator)
		return
	}
	b, err := h.opts.Isolate.Board(r.Context(), r.PathValue("board"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, b)
}

// pageIsolate serves the screen.
func (h *handler) pageIsolate(w http.ResponseWriter, r *http.Request) {
	h.showIsolate(w, r, web.Isolating{})
}

func (h *handler) showIsolate(w http.ResponseWriter, r *http.Request, p web.Isolating) {
	m := h.model(r, "isolate", "", "")
	if h.opts.Isolate != nil {
		now := h.isolatingNow(r.Context(), m.Job)
		if p.Search = now.Search; p.Wrong == "" {
			p.Wrong = now.Wrong
		}
		p.Boards, _ = h.opts.Isolate.Boards(r.Context()) // without a list the form still takes a pasted sheet
	}
	m.Isolating = &p
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := h.pages.Render(w, "isolate", m); err != nil {
		h.fail(w, r, err)
	}
}

// isolatingNow is what the record of a job comes to now.
func (h *handler) isolatingNow(ctx context.Context, job string) web.Isolating {
	if h.opts.Isolate == nil {
		return web.Isolating{}
	}
	f, err := h.opts.Isolate.Search(ctx, job)
	var said *Error
	switch {
	case err == nil:
		return web.Isolating{Search: &f}
	case !errors.As(err, &said) || said.Kind != NotFound:
		return web.Isolating{Wrong: err.Error()}
	}
	return web.Isolating{}
}

// formIsolate files what the form says; what was refused stays in its field.
func (h *handler) formIsolate(w http.ResponseWriter, r *http.Request) {
	ask := IsolateAsk{Entry: r.PostFormValue("entry"), Finding: r.PostFormValue("finding"), Sheet: r.PostFormValue("sheet"), Board: r.PostFormValue("board"), Anew: r.PostFormValue("anew"), Sure: r.PostFormValue("sure") != ""}
	if answer := r.PostFormValue("answer"); answer != "" && ask.Entry != "" {
		ask.Entry += " " + answer
	}
	_, err := h.file(r.Context(), r.PostFormValue("job"), ask)
	var doubt *Doubt
	if errors.As(err, &doubt) {
		h.askWhich(w, r, doubt, problemOf(err, "").Status)
		return
	}
	if err != nil {
		h.showIsolate(w, r, web.Isolating{Wrong: err.Error(), Entry: ask.Entry, Sheet: ask.Sheet, Early: errors.Is(err, ErrLiftedEarly)})
		return
	}
	http.Redirect(w, r, backOr(r, "/isolate"), http.StatusSeeOther)
}
