package sim

import (
	"encoding/json"
	"net/http"
	"strings"
)

// FaultHandler serves the faults for the demo: GET lists them, POST with the
// form fields name and args (separated by spaces) makes one happen and answers
// 204. Errors are RFC 9457 problem documents. It asks nobody who they are:
// whoever mounts it puts it behind the same fence as every other act.
func (b *Bench) FaultHandler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.Method {
		case http.MethodGet, http.MethodHead:
			writeJSON(w, "application/json", http.StatusOK, Faults())
		case http.MethodPost:
			b.postFault(w, r)
		default:
			w.Header().Set("Allow", "GET, HEAD, POST")
			problem(w, http.StatusMethodNotAllowed, "use GET to list the faults and POST to make one happen")
		}
	})
}

func (b *Bench) postFault(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4096)
	if err := r.ParseForm(); err != nil {
		problem(w, http.StatusBadRequest, "the form cannot be read: "+err.Error())
		return
	}
	if err := b.Fault(r.PostForm.Get("name"), strings.Fields(r.PostForm.Get("args"))...); err != nil {
		problem(w, http.StatusBadRequest, err.Error())
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func problem(w http.ResponseWriter, status int, detail string) {
	writeJSON(w, "application/problem+json", status, map[string]any{
		"title": http.StatusText(status), "status": status, "detail": detail,
	})
}

func writeJSON(w http.ResponseWriter, kind string, status int, body any) {
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(status)
	// The status line is out: a client that went away is no news.
	_ = json.NewEncoder(w).Encode(body)
}
