package dashboards

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"net/http"
	"strconv"
	"strings"

	"steadyrail/dashboards/web"
)

// PhoneOptions is what the page for a phone is built from. All are required.
type PhoneOptions struct {
	Job    string
	Token  string // one time, in the path
	Host   func() string
	Take   func(r *http.Request, f File) (Result, error) // records a file
	Closed func() bool                                   // the time is over, or it was revoked
}

// NewPhone returns the handler of the page for a phone: the page, what it sends,
// and nothing else. It is served on an address that other computers reach, so
// it knows neither the bench's token nor its screens: who has the one-time token
// can add pictures and sounds to one job for a few minutes, and read nothing.
func NewPhone(o PhoneOptions) http.Handler {
	pages, err := web.New()
	if err != nil {
		panic(err) // embedded
	}
	return &phone{o, pages}
}

type phone struct {
	o     PhoneOptions
	pages *web.Pages
}

// ServeHTTP answers the one path. Everything else gets the same answer, whatever
// is wrong with it.
func (p *phone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	securityHeaders(w.Header())
	token := strings.TrimPrefix(r.URL.Path, "/")
	switch {
	case !strings.EqualFold(r.Host, p.o.Host()):
		http.Error(w, "not a name of this page", http.StatusMisdirectedRequest)
	case p.o.Closed() || subtle.ConstantTimeCompare([]byte(token), []byte(p.o.Token)) != 1:
		http.Error(w, "This page is closed. Open a new one on the bench and scan it again.", http.StatusNotFound)
	case r.Method == http.MethodGet:
		p.show(w, http.StatusOK, "", "")
	case r.Method == http.MethodPost && isUpload(r) && http.NewCrossOriginProtection().Check(r) == nil:
		p.take(w, r)
	default:
		http.Error(w, "only pictures and sounds are taken here", http.StatusMethodNotAllowed)
	}
}

func (p *phone) take(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, MaxFile+maxBody)
	res, err := takeFiles(r, func(f File) (Result, error) { return p.o.Take(r, f) })
	if err != nil {
		problem := problemOf(err, "")
		p.show(w, problem.Status, "", strings.TrimSuffix(problem.Detail, ".")+". "+problem.Hint)
		return
	}
	p.show(w, http.StatusOK, res.Say, "")
}

// show draws the page: it brings its own style and script, named by a number
// that is used once.
func (p *phone) show(w http.ResponseWriter, status int, said, wrong string) {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails, see crypto/rand
	nonce := base64.RawURLEncoding.EncodeToString(b[:])
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'nonce-"+nonce+"'; script-src 'nonce-"+nonce+"'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_ = p.pages.Phone(w, web.Phone{Job: p.o.Job, Said: said, Wrong: wrong, Nonce: nonce})
}

type handoverBody struct {
	Minutes int    `json:"minutes"`
	Address string `json:"address"` // of this computer, that the phone can reach; "": one is chosen
}

func (h *handler) postHandover(w http.ResponseWriter, r *http.Request) {
	var b handoverBody
	if !h.entryBody(w, r, &b) {
		return
	}
	out, err := h.opts.Entries.Handover(r.Context(), r.PathValue("job"), b.Minutes, b.Address)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusCreated, out)
}

func (h *handler) getHandover(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries != nil {
		if out, ok := h.opts.Entries.OpenHandover(r.PathValue("job")); ok {
			h.answer(w, r, http.StatusOK, out)
			return
		}
	}
	h.fail(w, r, &Error{Kind: NotFound, Detail: "no page for a phone is open"})
}

func (h *handler) deleteHandover(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.fail(w, r, noEntries)
		return
	}
	res, err := h.opts.Entries.EndHandover(r.PathValue("job"))
	h.done(w, r, http.StatusOK, res, err)
}

// formHandover opens the page for a phone, or closes it.
func (h *handler) formHandover(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.back(w, r, noEntries)
		return
	}
	f := r.PostFormValue
	var err error
	if f("end") != "" {
		_, err = h.opts.Entries.EndHandover(f("job"))
	} else {
		minutes, _ := strconv.Atoi(f("minutes"))
		_, err = h.opts.Entries.Handover(r.Context(), f("job"), minutes, strings.TrimSpace(f("address")))
	}
	h.back(w, r, err)
}
