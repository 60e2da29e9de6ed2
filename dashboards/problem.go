package dashboards

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"
)

// Kind sorts errors by what the one who asked can do about them.
type Kind string

// The kinds. The zero value is [Broken].
const (
	Broken      Kind = ""            // our fault
	Invalid     Kind = "invalid"     // the request cannot be read
	Locked      Kind = "locked"      // the token is missing or wrong
	NotAllowed  Kind = "not-allowed" // not from there, or not configured
	NotFound    Kind = "not-found"
	Conflict    Kind = "conflict" // does not fit the present state
	Refused     Kind = "refused"  // understood, and refused for a reason of the bench
	TooLarge    Kind = "too-large"
	Misdirected Kind = "misdirected" // the Host is not one of ours
	Unavailable Kind = "unavailable" // for now
)

// kinds gives each kind its status, title and what it means.
var kinds = map[Kind]struct {
	status int
	title  string
	means  string
}{
	Broken:      {http.StatusInternalServerError, "Something broke", "The fault is the program's. The log of the daemon says more."},
	Invalid:     {http.StatusBadRequest, "This cannot be read", "A part of the request is missing or is not what it should be."},
	Locked:      {http.StatusUnauthorized, "Looking is open, acting is locked", "Acts need the token that the daemon printed when it started."},
	NotAllowed:  {http.StatusForbidden, "Not allowed", "The request came from another site, or the configuration does not allow it."},
	NotFound:    {http.StatusNotFound, "Not found", "There is no such thing here."},
	Conflict:    {http.StatusConflict, "This does not fit the present state", "Something else holds it, or it has been done already."},
	Refused:     {http.StatusUnprocessableEntity, "Refused", "The bench understood and refuses, for the reason given."},
	TooLarge:    {http.StatusRequestEntityTooLarge, "Too large", "The body is larger than any act needs."},
	Misdirected: {http.StatusMisdirectedRequest, "Not a name of this bench", "The Host of the request is not one that the daemon answers to."},
	Unavailable: {http.StatusServiceUnavailable, "Not available now", "Try again; if it stays so, the daemon's log says more."},
}

// Error is an error with what the one who asked must know. Detail says what
// happened, Hint what to try. Err may be nil.
type Error struct {
	Kind   Kind
	Detail string
	Hint   string
	Err    error
}

// Error joins the detail and the cause. A cause that says by itself what was
// wanted is not told it twice.
func (e *Error) Error() string {
	if e.Err == nil {
		return e.Detail
	}
	why := e.Err.Error()
	if e.Detail == "" || strings.HasPrefix(why, e.Detail+" ") || strings.HasPrefix(why, e.Detail+":") {
		return why
	}
	return e.Detail + ": " + why
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// Problem is a problem document after RFC 9457, with the member "hint" added.
type Problem struct {
	Type     string `json:"type"`
	Title    string `json:"title"`
	Status   int    `json:"status"`
	Detail   string `json:"detail,omitempty"`
	Instance string `json:"instance,omitempty"`
	Hint     string `json:"hint,omitempty"`
}

// problemOf turns any error into the document that answers for it.
func problemOf(err error, instance string) Problem {
	var e *Error
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &e):
	case errors.As(err, &big):
		e = &Error{Kind: TooLarge, Detail: err.Error()}
	default:
		e = &Error{Kind: Broken, Detail: err.Error()}
	}
	k, ok := kinds[e.Kind]
	if !ok {
		k = kinds[Broken]
	}
	name := string(e.Kind)
	if e.Kind == Broken {
		name = "broken"
	}
	return Problem{Type: "/problems/" + name, Title: k.title, Status: k.status, Detail: err.Error(), Instance: instance, Hint: e.Hint}
}

// fail answers with a problem: a document to programs, a page to browsers.
func (h *handler) fail(w http.ResponseWriter, r *http.Request, err error) {
	p := problemOf(err, r.URL.Path)
	if p.Status == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", `Bearer realm="steadyrail"`)
	}
	if wantsPage(r) {
		h.problemPage(w, r, p)
		return
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p)
}

// wantsPage tells a browser that shows a page from a program.
func wantsPage(r *http.Request) bool {
	return !strings.HasPrefix(r.URL.Path, "/api/") && strings.Contains(r.Header.Get("Accept"), "text/html")
}

// meaning serves /problems/{kind}: what a problem's type says.
func (h *handler) meaning(w http.ResponseWriter, r *http.Request) {
	kind := Kind(r.PathValue("kind"))
	if kind == "broken" {
		kind = Broken
	}
	k, ok := kinds[kind]
	if !ok {
		h.fail(w, r, &Error{Kind: NotFound, Detail: "no problem of that name"})
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte(k.title + ".\n" + k.means + "\n"))
}
