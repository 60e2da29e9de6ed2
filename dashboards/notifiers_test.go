package dashboards_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"steadyrail/capture/live"
	"steadyrail/dashboards"
)

// Every screen says that what is told does not arrive, and who still is.
func TestScreensSayWhoIsNotTold(t *testing.T) {
	lost := live.NotifierView{Name: "shop", Kind: "webhook", Sent: 2, Failed: 1, Tried: true, Problem: "connection refused", Failing: 3 * time.Minute}
	well := live.NotifierView{Name: "office", Kind: "email", Sent: 3, Tried: true}
	terminal := live.NotifierView{Name: "terminal", Kind: "terminal", Sent: 3, Tried: true}
	for name, c := range map[string]struct {
		list []live.NotifierView
		want string
	}{
		"all lost":  {[]live.NotifierView{terminal, lost}, "Nobody is told: webhook shop has failed for 3\u00a0min: connection refused"},
		"one lost":  {[]live.NotifierView{lost, well}, "Not everybody is told: webhook shop has failed for 3\u00a0min: connection refused"},
		"none lost": {[]live.NotifierView{well, terminal}, ""},
		"nobody":    {nil, ""},
	} {
		s := night()
		s.Notifiers = c.list
		srv := serve(t, newFake(s))
		for _, page := range []string{"/", "/alarms", "/job", "/rail/+5%20V%20logic"} {
			_, body := call(t, srv, req{path: page})
			if has := strings.Contains(body, "body is told"); has != (c.want != "") || !strings.Contains(body, c.want) {
				t.Errorf("%s on %s: wants %q", name, page, c.want)
			}
		}
		_, body := call(t, srv, req{path: "/"})
		if strings.Contains(body, "Who is told") != (len(c.list) > 0) {
			t.Errorf("%s: the list of notifiers", name)
		}
		if strings.Contains(body, "/notifiers/test") {
			t.Errorf("%s: a button on a locked page", name)
		}
	}
}

// The button needs the token like every act, and answers what came back.
func TestNotifierButton(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	for _, path := range []string{"/api/v1/notifiers/webhook/test", "/notifiers/test"} {
		if resp, _ := call(t, srv, req{method: "POST", path: path}); resp.StatusCode != http.StatusUnauthorized || len(b.acts()) != 0 {
			t.Errorf("%s without the token: %d, did %v", path, resp.StatusCode, b.acts())
		}
	}
	form := req{method: "POST", path: "/notifiers/test", body: "name=webhook&back=/", head: with(bearer, "Content-Type", "application/x-www-form-urlencoded")}
	if resp, body := call(t, srv, form); resp.StatusCode != 200 || !strings.Contains(body, "The test arrived") || !strings.Contains(body, "Done.") || b.acts()[0] != "test webhook" {
		t.Errorf("answered %d\n%s", resp.StatusCode, body)
	}
	b.fails = &dashboards.Error{Kind: dashboards.Unavailable, Detail: "the test to webhook did not arrive"}
	if resp, body := call(t, srv, form); resp.StatusCode != 503 || !strings.Contains(body, "did not arrive") {
		t.Errorf("answered %d\n%s", resp.StatusCode, body)
	}
}
