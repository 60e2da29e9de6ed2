package dashboards_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// looksAs looks at a bench that a test describes.
type looksAs struct {
	found web.Health
	err   error
	conf  web.Configuration
}

func (l looksAs) Health(context.Context) (web.Health, error) { return l.found, l.err }
func (l looksAs) Configuration() web.Configuration           { return l.conf }

func withHealth(e dashboards.Examiner) func(*dashboards.Options) {
	return func(o *dashboards.Options) { o.Health = e }
}

// The page shows what wants something done before what is well, each with what to
// do, and what a reload would come to; the button is for who may act.
func TestHealthPage(t *testing.T) {
	srv := serve(t, newFake(night()), withHealth(dashboards.PaperExaminer{}))
	_, page := call(t, srv, req{path: "/health"})
	for _, want := range []string{"3 things to look after", "2 of 5 findings are well", "To look after", "bench.yaml:8", "write one, 127.0.0.1:8470", "held by modem-service",
		"The file has a problem: a reload changes nothing before it is mended.", "/home/bench/bench.yaml", "unlock at the foot", ">Health</a>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, `action="/reload"`) {
		t.Error("a button on a locked page")
	}
	if strings.Index(page, "Disk space") > strings.Index(page, ">Version<") {
		t.Error("what is well stands before what is not")
	}
	cookie, _ := session(t, srv)
	if _, page := call(t, srv, req{path: "/health", head: map[string]string{"Cookie": cookie}}); !strings.Contains(page, `action="/reload"`) {
		t.Error("no button for who may act")
	}
}

// What a reload would come to is one sentence, whatever it is.
func TestReloadSentence(t *testing.T) {
	for name, c := range map[string]struct {
		conf web.Configuration
		want string
	}{
		"no file":  {web.Configuration{}, "started without a file"},
		"same":     {web.Configuration{CanReload: true}, "A reload changes nothing: "},
		"waits":    {web.Configuration{CanReload: true, Waits: []string{"listen", "voice"}}, "This waits for a restart: listen, voice."},
		"differs":  {web.Configuration{CanReload: true, Changes: []string{"a", "b"}}, "A reload would change this: a; b."},
		"refused":  {web.Configuration{CanReload: true, Refused: "rule x needs hand"}, "A reload changes nothing now: rule x needs hand."},
		"problems": {web.Configuration{CanReload: true, Problems: make([]web.ConfigProblem, 2)}, "The file has 2 problems"},
	} {
		srv := serve(t, newFake(night()), withHealth(looksAs{conf: c.conf}))
		if _, page := call(t, srv, req{path: "/health"}); !strings.Contains(page, c.want) || !strings.Contains(page, "Nothing has to be done") {
			t.Errorf("%s: the page does not say %q", name, c.want)
		}
	}
}

// A daemon that cannot look says so, with its kind.
func TestHealthRefused(t *testing.T) {
	away := &dashboards.Error{Kind: dashboards.Unavailable, Detail: "look at the bench: gone"}
	srv := serve(t, newFake(night()), withHealth(looksAs{err: away}))
	for _, path := range []string{"/health", "/api/v1/doctor"} {
		if resp, body := call(t, srv, req{path: path}); resp.StatusCode != http.StatusServiceUnavailable || !strings.Contains(body, "look at the bench") {
			t.Errorf("%s: %d", path, resp.StatusCode)
		}
	}
	bare := serve(t, newFake(night()))
	for _, path := range []string{"/health", "/api/v1/doctor", "/api/v1/configuration"} {
		if resp, _ := call(t, bare, req{path: path}); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s without eyes: %d", path, resp.StatusCode)
		}
	}
}

// The button reloads with the token alone, never for another site, and answers with
// what came of it.
func TestReloadButton(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b, withHealth(dashboards.PaperExaminer{}))
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded"}
	if resp, _ := call(t, srv, req{method: "POST", path: "/reload", head: form}); resp.StatusCode != http.StatusUnauthorized {
		t.Errorf("without the token: %d", resp.StatusCode)
	}
	cookie, nonce := session(t, srv)
	mine := with(form, "Cookie", cookie)
	send := func(nonce string, head map[string]string) (int, string) {
		resp, body := call(t, srv, req{method: "POST", path: "/reload", body: url.Values{"nonce": {nonce}, "back": {"/health"}}.Encode(), head: head})
		return resp.StatusCode, body
	}
	if code, _ := send("stale", mine); code != http.StatusForbidden {
		t.Errorf("with another nonce: %d", code)
	}
	if code, _ := send(nonce, with(mine, "Sec-Fetch-Site", "cross-site")); code != http.StatusForbidden {
		t.Errorf("from another site: %d", code)
	}
	if len(b.acts()) != 0 {
		t.Fatalf("did %v", b.acts())
	}
	if code, body := send(nonce, mine); code != http.StatusOK || !strings.Contains(body, "Reloaded") || !strings.Contains(body, "Done.") || !strings.Contains(body, `href="/health"`) || b.acts()[0] != "reload" {
		t.Errorf("%d, did %v\n%s", code, b.acts(), body)
	}
	b.fails = &dashboards.Error{Kind: dashboards.Invalid, Detail: "reload: nothing was changed"}
	if code, body := send(nonce, mine); code != http.StatusBadRequest || !strings.Contains(body, "nothing was changed") {
		t.Errorf("a wrong file: %d\n%s", code, body)
	}
}
