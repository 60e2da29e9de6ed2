package dashboards_test

import (
	"encoding/json"
	"net/url"
	"strings"
	"testing"

	"steadyrail/dashboards"
)

func TestMayALeadGoOn(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	ask := "/api/v1/placements/check?channel=dmm/volts&rail=" + url.QueryEscape("+5 V logic") + "&hold=clipped"
	for query, want := range map[string]bool{ask: true, ask + "&return=" + url.QueryEscape("-12 V audio"): false} {
		resp, body := call(t, srv, req{path: query})
		var may dashboards.MayPlace
		if err := json.Unmarshal([]byte(body), &may); err != nil || resp.StatusCode != 200 || may.OK != want || want == (len(may.Loop) > 0) {
			t.Errorf("%s: %d %s", query, resp.StatusCode, body)
		}
	}
	for _, bad := range []string{"/api/v1/placements/check", ask[:len(ask)-len("clipped")] + "glued"} {
		if resp, body := call(t, srv, req{path: bad}); resp.StatusCode != 400 {
			t.Errorf("%s: %d %s", bad, resp.StatusCode, body)
		}
	}
	if len(b.acts()) != 0 {
		t.Errorf("asking did %v", b.acts())
	}
}

// The bench page tells in words what the drawing shows.
func TestEarthAndLowsOnTheBenchPage(t *testing.T) {
	_, body := call(t, serve(t, newFake(night())), req{path: "/"})
	for _, want := range []string{"Earth and lows", "supply/volts: its minus is on 0 V, tied to earth.", "1 of 3 leads tied to earth", "<svg viewBox", "Local codes and licensed practice"} {
		if !strings.Contains(body, want) {
			t.Errorf("%q is missing", want)
		}
	}
}
