package dashboards

import (
	"net/http"
	"strings"
)

// isUpload reports a form that may carry files.
func isUpload(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
}

// bodyLimit is what a request may send, in bytes: little, but for a picture, a
// sound or the captures of an oscilloscope.
func bodyLimit(r *http.Request) int64 {
	if r.Method != http.MethodPost {
		return maxBody
	}
	switch p := r.URL.Path; {
	case p == "/entries/file", p == "/api/v1/entries" && isFile(r):
		return MaxFile + maxBody
	case isUpload(r) && (p == "/standin" || p == "/api/v1/standin"):
		return maxUpload
	}
	return maxBody
}
