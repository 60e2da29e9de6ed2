package dashboards_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/capture/walk"
	"steadyrail/dashboards"
)

// walker is a walk that stands still.
type walker struct {
	view dashboards.WalkView
	did  []dashboards.WalkAct
}

func (w *walker) Walk(context.Context, string, uint64) (dashboards.WalkView, error) {
	return w.view, nil
}

func (w *walker) DoWalk(_ context.Context, job string, a dashboards.WalkAct) (dashboards.Result, error) {
	w.did = append(w.did, a)
	return dashboards.Result{Job: job, Say: "The walk goes on."}, nil
}

func walkOnFive() *walker {
	return &walker{view: dashboards.WalkView{Seq: 7, View: walk.View{
		Job: "AB-0147", Active: true, Rail: "+5 V logic", Point: "TP5", In: "ohms", Word: "touch", Note: "an open rail is not seen: press when you are on it",
		Key: "I am on it", Last: "−12 V audio 0.0002 V", Done: 4, Of: 8, Cautions: []string{"A <caution> of two lines."},
		Rows: []walk.Row{{Rail: "+5 V logic", Volts: walk.Figure{Text: "0.0001 V"}}, {Rail: "+12 V audio", Volts: walk.Figure{Why: "skipped in the walk"}, Verdict: "No reading"}}}}}
}

func TestWalkAPI(t *testing.T) {
	w := walkOnFive()
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Walk = w })
	resp, body := call(t, srv, req{path: "/api/v1/walk?after=3"})
	if resp.StatusCode != http.StatusOK || !strings.Contains(body, `"word":"touch"`) || !strings.Contains(body, `"seq":7`) {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
	if resp, body := call(t, srv, req{path: "/api/v1/walk?after=x"}); resp.StatusCode != http.StatusBadRequest || !strings.Contains(body, "seq of the last answer") {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
	head := map[string]string{"Content-Type": "application/json"}
	if resp, _ := call(t, srv, req{method: "POST", path: "/api/v1/walk", body: `{"do":"press"}`, head: head}); resp.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a token: %d", resp.StatusCode)
	}
	if len(w.did) != 0 {
		t.Errorf("done without a token: %+v", w.did)
	}
	head["Authorization"] = bearer["Authorization"]
	if resp, body := call(t, srv, req{method: "POST", path: "/api/v1/walk", body: `{"job":"AB-0147","do":"press"}`, head: head}); resp.StatusCode != http.StatusOK || !strings.Contains(body, "goes on") || len(w.did) != 1 {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
	if resp, _ := call(t, serve(t, newFake(night())), req{path: "/api/v1/walk"}); resp.StatusCode != http.StatusNotFound {
		t.Errorf("without walks: %d", resp.StatusCode)
	}
}

func TestWalkPage(t *testing.T) {
	w := walkOnFive()
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Walk = w })
	_, page := call(t, srv, req{path: "/walk"})
	for _, want := range []string{`data-walk="rail">&#43;5 V logic</h1>`, `data-walk="word">touch</p>`, "4</span> of", "skipped in the walk", "A &lt;caution&gt; of two lines."} {
		if !strings.Contains(page, want) {
			t.Errorf("the page has not %q", want)
		}
	}
	if strings.Contains(page, "data-press") {
		t.Error("keys are shown to who may only look")
	}
	cookie, nonce := session(t, srv)
	_, page = call(t, srv, req{path: "/walk", head: map[string]string{"Cookie": cookie}})
	if !strings.Contains(page, "I am on it") || !strings.Contains(page, `data-press="press"`) {
		t.Error("no key is shown")
	}
	form := url.Values{"nonce": {nonce}, "do": {"begin"}, "both": {"1"}, "job": {"AB-0147"}}
	call(t, srv, req{method: "POST", path: "/walk", body: form.Encode(), head: map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}})
	if len(w.did) != 1 || w.did[0].Do != "begin" || !w.did[0].Both {
		t.Errorf("%+v", w.did)
	}
}
