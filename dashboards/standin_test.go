package dashboards_test

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// judged answers every text that does not say "wrong" with one that fits and one
// that does not.
func judged(o *dashboards.Options) {
	o.StandIn = func(text []byte) ([]web.StandIn, error) {
		if strings.Contains(string(text), "wrong") {
			return nil, errors.New("text:1: wrong: there is no such key")
		}
		return []web.StandIn{
			{Candidate: "board A", Rail: "+5 V", Word: "fits", Say: "Board A may stand in.", Checks: []web.StandInCheck{{Name: "headroom", Word: "fits", Value: 3.9, Limit: 2, Unit: "V", Say: "3.9 V are there.", Source: []string{"measured"}}}},
			{Candidate: "board <B>", Rail: "+5 V", Word: "does not fit", Say: "It is too weak.", Checks: []web.StandInCheck{}},
		}, nil
	}
}

func TestStandInAPI(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b, judged)
	ask := func(body string, head map[string]string) (int, string) {
		resp, got := call(t, srv, req{method: "POST", path: "/api/v1/standin", body: body, head: head})
		return resp.StatusCode, got
	}
	for _, c := range []struct {
		body  string
		head  map[string]string
		code  int
		words string
	}{
		{"rail: x", bearer, http.StatusOK, `"candidate":"board A"`},
		{"rail: x", nil, http.StatusUnauthorized, "token"},
		{"wrong: x", bearer, http.StatusBadRequest, "no such key"},
		{strings.Repeat("x", 70<<10), bearer, http.StatusRequestEntityTooLarge, "64 KiB"},
	} {
		if code, body := ask(c.body, c.head); code != c.code || !strings.Contains(body, c.words) {
			t.Errorf("%.20q: %d %s", c.body, code, body)
		}
	}
	bare := serve(t, b)
	if resp, body := call(t, bare, req{method: "POST", path: "/api/v1/standin", body: "rail: x", head: bearer}); resp.StatusCode != http.StatusNotFound {
		t.Errorf("without a judge: %d %s", resp.StatusCode, body)
	}
}

// What was pasted stays in the form beside its answer, and nothing of it is taken
// for markup.
func TestStandInPage(t *testing.T) {
	srv := serve(t, newFake(night()), judged)
	if _, page := call(t, srv, req{path: "/standin"}); !strings.Contains(page, "May a converter stand in?") || !strings.Contains(page, "unlock at the foot") {
		t.Error("the page does not ask, or offers a form to who may not")
	}
	cookie, nonce := session(t, srv)
	paste := func(text string) string {
		_, page := call(t, srv, req{method: "POST", path: "/standin", body: url.Values{"nonce": {nonce}, "text": {text}}.Encode(), head: map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}})
		return page
	}
	page := paste("rail: <script>")
	for _, want := range []string{"1 of 2 may stand in", "board A: fits", "board &lt;B&gt;: does not fit", "3.9 V are there.", "rail: &lt;script&gt;</textarea>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if page := paste("wrong: y"); !strings.Contains(page, "no such key") || !strings.Contains(page, "wrong: y</textarea>") {
		t.Error("what is wrong is not said, or what was pasted is gone")
	}
}
