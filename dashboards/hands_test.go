package dashboards_test

import (
	"errors"
	"net/url"
	"strings"
	"sync"
	"testing"

	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// someHands remember what they were told.
type someHands struct {
	mu   sync.Mutex
	done []string
}

func (*someHands) Look() web.Hands {
	return web.Hands{
		Probes: []web.HandProbe{{Meter: "dmm", At: "TP5", Clip: true}, {Meter: "dmm2"}, {Meter: "thermo", At: "room", Clip: true, Bead: true}},
		Points: []string{"0 V", "TP5", "PS2 pin out"}, Warm: []string{"room", "stand-in case"},
		Parts: []web.HandPart{{Name: "CN3", In: true}, {Name: "PS2", In: true}, {Name: "stand-in"}},
		Feed:  "board", Feeds: []string{"board", "stand-in", "nothing"}, Speed: 1, Usage: []string{"probe METER POINT"},
		Faults: []web.HandFault{{Name: "input joint", Usage: "input joint DURATION [OHMS]", Says: "the joint at the stand-in's input opens to so many ohm for so long"}},
	}
}

func (h *someHands) Do(words []string) (string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.done = append(h.done, strings.Join(words, " "))
	if len(words) == 0 || words[0] == "dance" {
		return "", errors.New("hands do not know <dance>")
	}
	return "Done: " + strings.Join(words, " ") + ".", nil
}

// The hands of a simulated bench are looked at by everybody and used with the
// token; a real bench has neither page nor address.
func TestHandsOfASimulatedBench(t *testing.T) {
	h := &someHands{}
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Hands = h })
	if _, page := call(t, srv, req{path: "/demo"}); !strings.Contains(page, "Looking only") || !strings.Contains(page, "TP5, clipped") || strings.Contains(page, `action="/demo"`) {
		t.Errorf("without the token:\n%s", page)
	}
	if resp, _ := call(t, srv, req{method: "POST", path: "/demo/hands", body: `{"do":["turn","1"]}`}); resp.StatusCode != 401 || len(h.done) > 0 {
		t.Errorf("without the token: %d, did %q", resp.StatusCode, h.done)
	}
	if _, body := call(t, srv, req{method: "POST", path: "/demo/hands", body: `{"do":["probe","dmm","TP5"]}`, head: bearer}); !strings.Contains(body, `"say":"Done: probe dmm TP5."`) {
		t.Error(body)
	}
	if resp, body := call(t, srv, req{method: "POST", path: "/demo/hands", body: `{"do":["dance"]}`, head: bearer}); resp.StatusCode != 400 || !strings.Contains(body, "do not know") {
		t.Error(resp.StatusCode, body)
	}
	if _, body := call(t, srv, req{path: "/demo/hands"}); !strings.Contains(body, `"feed":"board"`) {
		t.Error(body)
	}
	cookie, nonce := session(t, srv)
	form := func(do ...string) string {
		_, page := call(t, srv, req{method: "POST", path: "/demo", body: url.Values{"nonce": {nonce}, "do": do}.Encode(), head: map[string]string{
			"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html", "Origin": srv.URL,
		}})
		return page
	}
	if page := form("probe", "dmm", "PS2 pin out", "clip"); !strings.Contains(page, "Done: probe dmm PS2 pin out clip.") || !strings.Contains(page, "Take PS2 out") || !strings.Contains(page, "Put stand-in in") {
		t.Errorf("by the page:\n%s", page)
	}
	if page := form("dance"); !strings.Contains(page, "hands do not know &lt;dance&gt;") {
		t.Errorf("what is wrong is not said:\n%s", page)
	}
	if resp, page := call(t, serve(t, newFake(night())), req{path: "/demo"}); resp.StatusCode != 404 || strings.Contains(page, `href="/demo"`) {
		t.Error("a real bench has hands:", resp.StatusCode)
	}
}
