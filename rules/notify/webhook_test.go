package notify

import (
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"steadyrail/capture"
)

// receiver is a real server that answers by a list of codes, 200 after it.
type receiver struct {
	*httptest.Server
	mu     sync.Mutex
	codes  []int
	bodies [][]byte
	keys   []string
	came   chan struct{}
}

func newReceiver(t testing.TB, codes ...int) *receiver {
	r := &receiver{codes: codes, came: make(chan struct{}, 1000)}
	r.Server = httptest.NewServer(http.HandlerFunc(r.serve))
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) serve(w http.ResponseWriter, req *http.Request) {
	body, _ := io.ReadAll(req.Body)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.bodies, r.keys = append(r.bodies, body), append(r.keys, req.Header.Get("Idempotency-Key"))
	if len(r.codes) > 0 {
		w.WriteHeader(r.codes[0])
		r.codes = r.codes[1:]
	}
	r.came <- struct{}{}
}

func TestWebhookBody(t *testing.T) {
	r := newReceiver(t)
	w := NewWebhook("", r.URL+"/hook?token=secret", 0)
	defer w.Close()
	m := message(1)
	m.Links = map[string]string{"rail": "http://127.0.0.1:8470/rail"}
	if err := w.Notify(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(r.bodies[0], &got); err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]any{
		"version": 1.0, "bench": "east", "job": "AB-0147", "rail": "+5 V logic", "rule": "collapse +5 V logic", "kind": "collapse",
		"severity": "urgent", "state": "active", "was": "normal", "sentence": "+5 V logic collapsed: from 5.011 V to 3.087 V",
		"value": 3.087, "limit": 4.7, "unit": "V", "nominal": 5.0, "channel": "dmm/volts",
		"taken": "2027-01-15T08:00:00.900000Z", "at": "2027-01-15T08:00:01.000000Z", "raised": "2027-01-15T08:00:01.000000Z",
		"key": r.keys[0], "alarm": "collapse +5 V logic@1800000001000000",
	} {
		if got[key] != want {
			t.Errorf("%s: got %v, want %v", key, got[key], want)
		}
	}
	if w.Name() == "" || w.Name() != "webhook "+r.URL {
		t.Errorf("name %q shows a secret or nothing", w.Name())
	}
}

func TestWebhookAnswers(t *testing.T) {
	for _, c := range []struct {
		code             int
		delivered, again bool
	}{
		{200, true, false}, {204, true, false}, {302, false, false}, {400, false, false}, {401, false, false},
		{404, false, false}, {429, false, true}, {500, false, true}, {503, false, true},
	} {
		r := newReceiver(t, c.code)
		w := NewWebhook("hook", r.URL, 0)
		err := w.Notify(t.Context(), message(1))
		if (err == nil) != c.delivered || err != nil && errors.Is(err, ErrPermanent) == c.again {
			t.Errorf("%d: %v", c.code, err)
		}
		w.Close()
	}
}

func TestWebhookHonoursRetryAfter(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Retry-After", "7")
		w.WriteHeader(429)
	}))
	defer s.Close()
	w := NewWebhook("hook", s.URL, 0)
	defer w.Close()
	var again *RetryError
	if err := w.Notify(t.Context(), message(1)); !errors.As(err, &again) || again.After != 7*time.Second {
		t.Errorf("got %v", err)
	}
}

func TestWebhookServerErrorThenDelivered(t *testing.T) {
	r := newReceiver(t, 500, 503)
	d := New(Options{FirstWait: time.Millisecond}, NewWebhook("hook", r.URL, 0))
	d.Send(message(1))
	for range 3 {
		<-r.came
	}
	if err := d.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s := d.Stats()[0]; s.Sent != 1 || s.Retries != 2 {
		t.Errorf("stats %+v", s)
	}
	if r.keys[0] != r.keys[1] || r.keys[1] != r.keys[2] {
		t.Errorf("keys differ between attempts: %v", r.keys)
	}
}

func TestWebhookDownThenUp(t *testing.T) {
	// A free port that nothing listens on yet.
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	d := New(Options{FirstWait: 5 * time.Millisecond, LongWait: 20 * time.Millisecond}, NewWebhook("hook", "http://"+addr, 0))
	d.Send(message(1))
	d.Send(message(2))
	for d.Stats()[0].Retries < 2 {
		time.Sleep(time.Millisecond)
	}
	if s := d.Stats()[0]; s.Problem == "" || s.Queued != 2 {
		t.Errorf("while down: %+v", s)
	}
	var n atomic.Int32
	came := make(chan struct{}, 2)
	l, err = net.Listen("tcp", addr)
	if err != nil {
		t.Skipf("the port was taken meanwhile: %v", err)
	}
	s := &http.Server{Handler: http.HandlerFunc(func(http.ResponseWriter, *http.Request) { n.Add(1); came <- struct{}{} })}
	go s.Serve(l)
	defer s.Close()
	<-came
	<-came
	if err := d.Close(t.Context()); err != nil || n.Load() != 2 {
		t.Errorf("%v, delivered %d", err, n.Load())
	}
}

func TestWebhookSlow(t *testing.T) {
	free := make(chan struct{})
	s := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-free }))
	defer s.Close()
	defer close(free)
	w := NewWebhook("hook", s.URL, 30*time.Millisecond)
	defer w.Close()
	err := w.Notify(t.Context(), message(1))
	if err == nil || errors.Is(err, ErrPermanent) {
		t.Errorf("a slow receiver: %v", err)
	}
}

func TestWebhookFollowsNoRedirect(t *testing.T) {
	var hits atomic.Int32
	s := httptest.NewServer(nil)
	defer s.Close()
	s.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		hits.Add(1)
		http.Redirect(w, r, s.URL+"/elsewhere", http.StatusTemporaryRedirect)
	})
	w := NewWebhook("hook", s.URL, 0)
	defer w.Close()
	if err := w.Notify(t.Context(), message(1)); !errors.Is(err, ErrPermanent) || hits.Load() != 1 {
		t.Errorf("%v after %d requests", err, hits.Load())
	}
}

func TestWebhookIgnoresProxies(t *testing.T) {
	t.Setenv("HTTP_PROXY", "http://127.0.0.1:1")
	t.Setenv("http_proxy", "http://127.0.0.1:1")
	w := NewWebhook("hook", "http://bench.example/hook", 0)
	defer w.Close()
	if w.client.Transport.(*http.Transport).Proxy != nil {
		t.Error("the webhook would use a proxy")
	}
}

// BenchmarkDelivery is the time from a transition to the request being
// received, on loopback; one POST by a bare client is the baseline.
func BenchmarkDelivery(b *testing.B) {
	b.Run("dispatcher", func(b *testing.B) {
		r := newReceiver(b)
		d := New(Options{GroupAfter: 1 << 30}, NewWebhook("hook", r.URL, 0))
		defer d.Close(b.Context())
		for b.Loop() {
			d.Send(message(1))
			<-r.came
		}
	})
	b.Run("bare client", func(b *testing.B) {
		r := newReceiver(b)
		w := NewWebhook("hook", r.URL, 0)
		defer w.Close()
		for b.Loop() {
			if err := w.Notify(b.Context(), message(1)); err != nil {
				b.Fatal(err)
			}
			<-r.came
		}
	})
}

func TestConfig(t *testing.T) {
	for _, c := range []struct {
		what string
		c    Config
		ok   bool
	}{
		{"webhook", Config{Kind: "webhook", URL: "http://127.0.0.1:9999/hook"}, true},
		{"urgent only", Config{Kind: "webhook", URL: "https://bench.example/hook", Least: "urgent"}, true},
		{"terminal", Config{Kind: "terminal"}, true},
		{"no kind", Config{}, false},
		{"unknown kind", Config{Kind: "pigeon"}, false},
		{"no address", Config{Kind: "webhook"}, false},
		{"no scheme", Config{Kind: "webhook", URL: "bench.example/hook"}, false},
		{"odd scheme", Config{Kind: "webhook", URL: "ftp://bench.example/hook"}, false},
		{"long time-out", Config{Kind: "webhook", URL: "http://bench.example", Timeout: time.Hour}, false},
		{"terminal with an address", Config{Kind: "terminal", URL: "http://bench.example"}, false},
		{"unknown severity", Config{Kind: "terminal", Least: "grave"}, false},
	} {
		if err := c.c.Validate(); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.what, err)
		}
		n, err := c.c.Open(Env{Out: io.Discard})
		if (err == nil) != c.ok || c.ok && n.Name() == "" {
			t.Errorf("open %s: %v", c.what, err)
		}
	}
}

func TestEveryKindOpens(t *testing.T) {
	ready := map[string]Config{
		"webhook": {URL: "http://127.0.0.1:9999/hook"}, "terminal": {}, "alertmanager": {URL: "http://127.0.0.1:9093"}, "command": {Argv: []string{"go", "version"}},
		"email": {Server: "127.0.0.1:25", TLS: "none", From: "bench@shop.example", To: []string{"shop@shop.example"}},
	}
	for _, k := range Kinds() {
		c, known := ready[k]
		c.Kind = k
		if n, err := c.Open(Env{Out: io.Discard}); !known || err != nil || n == nil {
			t.Errorf("kind %s: in this test %v, %v", k, known, err)
		}
	}
}

func TestLeastSeverity(t *testing.T) {
	r := newReceiver(t)
	n, err := Config{Kind: "webhook", URL: r.URL, Least: "urgent"}.Open(Env{})
	if err != nil {
		t.Fatal(err)
	}
	d := New(Options{}, n)
	m := message(1)
	m.Alarm.Severity = capture.Warning
	d.Send(m)
	d.Send(message(2))
	if err := d.Close(t.Context()); err != nil || len(r.bodies) != 1 {
		t.Errorf("%v, %d delivered", err, len(r.bodies))
	}
}
