package comparison

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"steadyrail/capture"
)

// notice is one webhook request, from the daemon itself or from Alertmanager.
type notice struct {
	arrived time.Time // when the request's header was read
	from    string    // "own" or "pipeline"
	state   string    // own: "active", "latched"; pipeline: "firing", "resolved"
	labels  map[string]string
	at      capture.Instant // own: of the reading that decided
}

// hook is the server that both post to.
type hook struct {
	*httptest.Server
	mu      sync.Mutex
	notices []notice
	news    chan struct{} // closed and made anew with each notice
}

func newHook(tb testing.TB) *hook {
	h := &hook{news: make(chan struct{})}
	mux := http.NewServeMux()
	mux.HandleFunc("POST /own", h.handle("own", ownNotice))
	mux.HandleFunc("POST /pipeline", h.handle("pipeline", pipelineNotices))
	h.Server = httptest.NewServer(mux)
	tb.Cleanup(h.Close)
	return h
}

func (h *hook) handle(from string, read func([]byte) ([]notice, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		arrived := time.Now()
		body, err := io.ReadAll(r.Body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		list, err := read(body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		h.mu.Lock()
		defer h.mu.Unlock()
		for _, n := range list {
			n.arrived, n.from = arrived, from
			h.notices = append(h.notices, n)
		}
		close(h.news)
		h.news = make(chan struct{})
	}
}

// ownNotice reads the daemon's webhook, version 1.
func ownNotice(body []byte) ([]notice, error) {
	var p struct {
		Bench, Job, Rail, Rule, Kind, Severity, State string
		At                                            time.Time
	}
	if err := json.Unmarshal(body, &p); err != nil {
		return nil, err
	}
	return []notice{{state: p.State, at: capture.InstantOf(p.At), labels: map[string]string{
		"bench": p.Bench, "job": p.Job, "rail": p.Rail, "rule": p.Rule, "kind": p.Kind, "severity": p.Severity,
	}}}, nil
}

// pipelineNotices reads a webhook of Alertmanager: a notice for each alert.
func pipelineNotices(body []byte) ([]notice, error) {
	var p struct {
		Alerts []struct {
			Status string
			Labels map[string]string
		}
	}
	if err := json.Unmarshal(body, &p); err != nil {
		return nil, err
	}
	var out []notice
	for _, a := range p.Alerts {
		out = append(out, notice{state: a.Status, labels: a.Labels})
	}
	return out, nil
}

// all returns what has come so far, in order.
func (h *hook) all() []notice {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]notice(nil), h.notices...)
}

// await waits for the first notice that is as wanted.
func (h *hook) await(tb testing.TB, what string, wanted func(notice) bool) notice {
	tb.Helper()
	late := time.NewTimer(patience)
	defer late.Stop()
	for {
		h.mu.Lock()
		news, list := h.news, h.notices
		h.mu.Unlock()
		for _, n := range list {
			if wanted(n) {
				return n
			}
		}
		select {
		case <-news:
		case <-late.C:
			tb.Fatalf("waited %s in vain for %s; %d notices came: %+v", patience, what, len(list), list)
		}
	}
}
