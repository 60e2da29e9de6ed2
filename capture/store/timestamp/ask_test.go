package timestamp

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// client leaves no connection behind.
func client(t *testing.T) *http.Client {
	t.Helper()
	transport := &http.Transport{}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport}
}

func TestAsk(t *testing.T) {
	for name, c := range map[string]struct {
		status int
		kind   string
		body   string
		want   error
	}{
		"answer":        {200, "application/timestamp-reply", "response", nil},
		"parameters":    {200, "Application/Timestamp-Reply; x=y", "response", nil},
		"longest":       {200, replyType, strings.Repeat("x", MaxResponse), nil},
		"too long":      {200, replyType, strings.Repeat("x", MaxResponse+1), ErrMalformed},
		"a page":        {200, "text/html", "<p>hello", ErrMalformed},
		"no kind":       {200, "", "response", ErrMalformed},
		"not there":     {404, replyType, "response", ErrRefused},
		"other success": {202, replyType, "response", ErrRefused},
		"overloaded":    {503, "text/plain", "", ErrRefused},
	} {
		t.Run(name, func(t *testing.T) {
			var asked []byte
			var header http.Header
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				asked, _ = io.ReadAll(r.Body)
				header = r.Header
				w.Header()["Content-Type"] = []string{c.kind}
				w.WriteHeader(c.status)
				_, _ = io.WriteString(w, c.body)
			}))
			defer server.Close()
			got, err := Ask(t.Context(), client(t), strings.Replace(server.URL, "//", "//user:secret@", 1)+"/secret?key=secret", request())
			if !errors.Is(err, c.want) || err == nil && string(got) != c.body {
				t.Errorf("%.20q, %v, want %v", got, err, c.want)
			}
			if !bytes.Equal(asked, request().DER()) || header.Get("Content-Type") != queryType {
				t.Errorf("asked %x, %v", asked, header)
			}
			if err != nil && strings.Contains(err.Error(), "secret") {
				t.Errorf("the error tells a secret: %v", err)
			}
		})
	}
}

// TestTornAnswer: half a response is an error of the network, not a response.
func TestTornAnswer(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", replyType)
		w.Header().Set("Content-Length", "100")
		_, _ = io.WriteString(w, "half")
	}))
	defer server.Close()
	if got, err := Ask(t.Context(), client(t), server.URL, request()); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("%q, %v", got, err)
	}
}

func TestAskNobody(t *testing.T) {
	server := httptest.NewServer(http.NotFoundHandler())
	gone := server.URL
	server.Close()
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for name, c := range map[string]struct {
		ctx     context.Context
		address string
	}{
		"gone": {t.Context(), gone + "/secret"}, "cancelled": {cancelled, gone + "/secret"},
		"no address": {t.Context(), ":secret"}, "no host": {t.Context(), "secret"},
	} {
		if _, err := Ask(c.ctx, client(t), c.address, request()); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: %v", name, err)
		} else if name == "cancelled" && !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
