package dashboards_test

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// twoHands keep what they were told, and refuse to dance.
type twoHands struct {
	mu  sync.Mutex
	did []string
}

func (h *twoHands) Look() web.Hands {
	return web.Hands{Probes: []web.HandProbe{{Meter: "dmm", At: "TP5", Clip: true}}, Points: []string{"TP5", "TP12"}, Feed: "board", Feeds: []string{"board", "nothing"}, Speed: 1}
}

func (h *twoHands) Do(words []string) (string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(words) == 0 || words[0] == "dance" {
		return "", errors.New("hands do not dance")
	}
	h.did = append(h.did, strings.Join(words, "|"))
	return "It was done.", nil
}

// Only a simulated bench has hands, and only who has the token moves them, by page
// and by command alike.
func TestHandsOfASimulatedBench(t *testing.T) {
	h := new(twoHands)
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Hands = h })
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded", "Authorization": bearer["Authorization"]}
	for _, c := range []struct {
		req
		code  int
		words string
	}{
		{req{method: "GET", path: "/demo"}, http.StatusOK, "Looking only"},
		{req{method: "GET", path: "/demo", head: bearer}, http.StatusOK, "TP5"},
		{req{method: "GET", path: "/demo/hands", head: bearer}, http.StatusOK, `"feeds":["board","nothing"]`},
		{req{method: "POST", path: "/demo/hands", body: `{"do":["probe","dmm","TP12"]}`}, http.StatusUnauthorized, "token"},
		{req{method: "POST", path: "/demo/hands", body: `{"do":["probe","dmm","TP12"]}`, head: bearer}, http.StatusOK, "It was done."},
		{req{method: "POST", path: "/demo/hands", body: `{"do":["dance"]}`, head: bearer}, http.StatusBadRequest, "do not dance"},
		{req{method: "POST", path: "/demo/hands", body: `{"do":`, head: bearer}, http.StatusBadRequest, ""},
		{req{method: "POST", path: "/demo", body: url.Values{"do": {"probe", "dmm", "leads shorted"}}.Encode(), head: form}, http.StatusOK, "It was done."},
		{req{method: "POST", path: "/demo", body: url.Values{"do": {"dance"}}.Encode(), head: form}, http.StatusOK, "do not dance"},
	} {
		resp, body := call(t, srv, c.req)
		if resp.StatusCode != c.code || !strings.Contains(body, c.words) {
			t.Errorf("%s %s %s: %d, want %d %q in %.400s", c.method, c.path, c.body, resp.StatusCode, c.code, c.words, body)
		}
	}
	if got, want := strings.Join(h.did, " "), "probe|dmm|TP12 probe|dmm|leads|shorted"; got != want {
		t.Errorf("did %q, want %q", got, want)
	}
	real := serve(t, newFake(night()))
	for _, path := range []string{"/demo", "/demo/hands"} {
		if resp, _ := call(t, real, req{method: "GET", path: path, head: bearer}); resp.StatusCode != http.StatusNotFound {
			t.Errorf("a real bench answers %s with %d", path, resp.StatusCode)
		}
	}
}
