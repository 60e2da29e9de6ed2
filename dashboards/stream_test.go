package dashboards_test

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

type event struct{ name, id, data string }

// listen opens a stream and returns its events; the channel closes with it.
func listen(t *testing.T, srv *httptest.Server, path, lastID string) <-chan event {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, err := http.NewRequestWithContext(ctx, "GET", srv.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	resp, err := srv.Client().Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if got := resp.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Fatalf("content type %q", got)
	}
	out, done := make(chan event), make(chan struct{})
	go func() {
		defer close(done)
		defer close(out)
		defer resp.Body.Close()
		var e event
		lines := bufio.NewScanner(resp.Body)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			key, value, _ := strings.Cut(lines.Text(), ": ")
			switch key {
			case "event":
				e.name = value
			case "id":
				e.id = value
			case "data":
				e.data = value
			case "":
				if e.name != "" {
					select {
					case out <- e:
					case <-ctx.Done():
						return
					}
				}
				e = event{}
			}
		}
	}()
	t.Cleanup(func() { cancel(); <-done })
	return out
}

func next(t *testing.T, in <-chan event) event {
	t.Helper()
	select {
	case e, ok := <-in:
		if !ok {
			t.Fatal("the stream ended")
		}
		return e
	case <-time.After(45 * time.Second):
		t.Fatal("no event")
	}
	return event{}
}

func TestStreamTellsTheNewest(t *testing.T) {
	b := newFake(night())
	in := listen(t, serve(t, b), "/api/v1/stream", "")
	first := next(t, in)
	if first.name != "bench" || !strings.Contains(first.data, `"text":"5.012"`) {
		t.Fatalf("%+v", first)
	}
	for i := range 500 { // far more than anyone takes: only the newest must come through
		b.change(func(s *live.Snapshot) { s.Jobs[0].Rails[0].Volts = volts("dmm/volts", 4+float64(i)/1000, .001, s.Now) })
	}
	for n := 1; ; n++ {
		e := next(t, in)
		if strings.Contains(e.data, `"text":"4.499"`) {
			break
		}
		if n > 20 {
			t.Fatal("the stream queues old states")
		}
	}
}

func TestStreamResumes(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	first := next(t, listen(t, srv, "/api/v1/stream", ""))
	again := listen(t, srv, "/api/v1/stream", first.id)
	b.change(func(s *live.Snapshot) { s.Jobs[0].Rails[0].Volts = volts("dmm/volts", 4.9, .001, s.Now) })
	if e := next(t, again); e.id == first.id || !strings.Contains(e.data, `"4.900"`) {
		t.Errorf("told again what was known: %s", e.id)
	}
	if e := next(t, listen(t, srv, "/api/v1/stream", "another-daemon-7")); e.name != "bench" {
		t.Errorf("%+v", e)
	}
}

func TestPageStreamSendsOnlyWhatChanged(t *testing.T) {
	b := newFake(night())
	in := listen(t, serve(t, b), "/api/v1/stream?page=bench", "")
	var e struct {
		Title string
		Job   string
		Parts map[string]string
	}
	read := func() {
		e.Parts = nil
		if err := json.Unmarshal([]byte(next(t, in).data), &e); err != nil {
			t.Fatal(err)
		}
	}
	read()
	if len(e.Parts) != 7 || e.Job != "AB-0147" || !strings.HasPrefix(e.Title, "All four rails inside") {
		t.Fatalf("%d parts, %q", len(e.Parts), e.Title)
	}
	b.change(func(s *live.Snapshot) { *s = trouble() })
	read()
	for len(e.Parts) == 0 {
		read()
	}
	if !strings.HasPrefix(e.Title, "ALARM +5 V logic collapsed") || !strings.Contains(e.Parts["part-shout"], `role="alert"`) {
		t.Errorf("%q, %.200s", e.Title, e.Parts["part-shout"])
	}
	if _, ok := e.Parts["part-stages"]; ok {
		t.Error("a part that did not change was sent again")
	}
}

func TestStreamEndsWithTheDaemon(t *testing.T) {
	done := make(chan struct{})
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Done = done })
	in := listen(t, srv, "/api/v1/stream?page=bench", "")
	next(t, in)
	close(done)
	for {
		select {
		case _, ok := <-in:
			if !ok {
				return
			}
		case <-time.After(45 * time.Second):
			t.Fatal("the stream outlives the daemon")
		}
	}
}

// A browser that stops reading must not hold up anything else.
func TestStoppedBrowserHoldsNobodyUp(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	r, _ := http.NewRequestWithContext(ctx, "GET", srv.URL+"/api/v1/stream?page=job", nil)
	resp, err := srv.Client().Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close() // never read
	in := listen(t, srv, "/api/v1/stream", "")
	next(t, in)
	for i := range 50 {
		b.change(func(s *live.Snapshot) { s.Jobs[0].Rails[0].Volts = volts("dmm/volts", 5+float64(i)/1000, .001, s.Now) })
	}
	next(t, in)
}
