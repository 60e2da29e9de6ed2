package dashboards_test

import (
	"bytes"
	"context"
	"errors"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// judged answers every text that does not say "wrong" with one that fits and one
// that does not.
func judged(o *dashboards.Options) {
	o.StandIn = func(_ context.Context, ask dashboards.StandInAsk) (out dashboards.StandInsJudged, err error) {
		if strings.Contains(string(ask.Text), "wrong") {
			return out, errors.New("text:1: wrong: there is no such key")
		}
		if ask.FromJob {
			out.Taken = []web.StandInTaken{{Key: "load", Value: 1.1, U: 0.02, Source: "measured in " + ask.Job, Say: "measured in the job"}}
		}
		if ask.Keep {
			out.Kept = []string{"Stand-in judged: board A."}
		}
		for _, w := range ask.Waves {
			out.Kept = append(out.Kept, w.Shows+"|"+w.Name+"|"+w.Column+"|"+string(w.Data))
		}
		out.Judgements = []web.StandIn{
			{Candidate: "board A", Rail: "+5 V", Word: "fits", Say: "Board A may stand in.", Checks: []web.StandInCheck{{Name: "headroom", Word: "fits", Value: 3.9, Limit: 2, Unit: "V", Say: "3.9 V are there.", Source: []string{"measured"}}}},
			{Candidate: "board <B>", Rail: "+5 V", Word: "does not fit", Say: "It is too weak.", Checks: []web.StandInCheck{{Name: "heat", Word: "not stated", Say: "Not stated: cannot judge. Missing: load."}}},
		}
		return out, nil
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
	for _, want := range []string{"1 of 2 may stand in", "board A: fits", "board &lt;B&gt;: does not fit", "3.9\u00a0V are there.", "rail: &lt;script&gt;</textarea>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if page := paste("wrong: y"); !strings.Contains(page, "no such key") || !strings.Contains(page, "wrong: y</textarea>") {
		t.Error("what is wrong is not said, or what was pasted is gone")
	}
}

// upload is a question as a browser sends it with files.
func upload(t *testing.T, fields map[string]string, files map[string]string) (body, kind string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, v := range fields {
		if err := m.WriteField(k, v); err != nil {
			t.Fatal(err)
		}
	}
	for k, v := range files {
		f, err := m.CreateFormFile(k, k+".csv")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(v)); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String(), m.FormDataContentType()
}

// Captures come with the question, by the API and by the page's own form, whose
// nonce counts there too; a long one is no text.
func TestStandInUpload(t *testing.T) {
	srv := serve(t, newFake(night()), judged)
	body, kind := upload(t, map[string]string{"text": "rail: x", "job": "AB-0147", "keep": "yes", "column": "CH2"}, map[string]string{"step": strings.Repeat("0,5\n", 40<<10)})
	resp, got := call(t, srv, req{method: "POST", path: "/api/v1/standin", body: body, head: map[string]string{"Authorization": bearer["Authorization"], "Content-Type": kind}})
	if resp.StatusCode != http.StatusOK || !strings.Contains(got, "load step|step.csv|CH2|0,5") || !strings.Contains(got, "measured in AB-0147") || !strings.Contains(got, "Stand-in judged") {
		t.Errorf("%d %.300s", resp.StatusCode, got)
	}
	resp, got = call(t, srv, req{method: "POST", path: "/api/v1/standin?job=&keep=1", body: "rail: x", head: bearer})
	if resp.StatusCode != http.StatusOK || !strings.Contains(got, "measured in ") {
		t.Errorf("%d %s", resp.StatusCode, got)
	}
	cookie, nonce := session(t, srv)
	body, kind = upload(t, map[string]string{"nonce": nonce, "text": "rail: x", "job": "AB-0147"}, map[string]string{"start": "0,5\n"})
	if _, page := call(t, srv, req{method: "POST", path: "/standin", body: body, head: map[string]string{"Cookie": cookie, "Content-Type": kind}}); !strings.Contains(page, "start|start.csv||0,5") || !strings.Contains(page, "Not stated: cannot judge") || !strings.Contains(page, "From the job") {
		t.Error("the page's own form is not answered")
	}
	body, kind = upload(t, map[string]string{"nonce": "another", "text": "rail: x"}, nil)
	if resp, _ := call(t, srv, req{method: "POST", path: "/standin", body: body, head: map[string]string{"Cookie": cookie, "Content-Type": kind}}); resp.StatusCode != http.StatusForbidden {
		t.Error("a form of another session was taken:", resp.StatusCode)
	}
	body, kind = upload(t, map[string]string{"text": strings.Repeat("x", 70<<10)}, nil)
	if resp, _ := call(t, srv, req{method: "POST", path: "/api/v1/acts", body: body, head: map[string]string{"Authorization": bearer["Authorization"], "Content-Type": kind}}); resp.StatusCode == http.StatusOK {
		t.Error("an act took an upload")
	}
}

// A limiter is asked by its address, and answered on the page of stand-ins.
func TestLimiter(t *testing.T) {
	srv := serve(t, newFake(night()), func(o *dashboards.Options) {
		o.Limiter = func(q capture.LimiterQuestion) (web.Limited, error) {
			if q.Power == 0 {
				return web.Limited{}, errors.New("power: missing")
			}
			return web.Limited{Word: "cannot tell", Say: "Cannot tell with this limiter.", Points: []web.LimiterPoint{}, Rows: [][2]string{{"Most", "528 ohm"}}, Cautions: []string{"Mains side."}}, nil
		}
	})
	for path, want := range map[string]string{
		"/api/v1/limiter?source=325V&power=50W&ohms=880ohm":      `"word":"cannot tell"`,
		"/api/v1/limiter?source=325V":                            "power: missing",
		"/api/v1/limiter?source=325A&power=50W":                  "source: ",
		"/standin?source=325V&power=50W&lamp=230V+60W":           "Cannot tell with this limiter.",
		"/standin?source=325V&power=%22%3Cscript%3E&ohms=880ohm": "&lt;script&gt;",
		"/standin?source=325V":                                   "power: missing",
		"/standin":                                               "Through a lamp or a resistor",
	} {
		if _, got := call(t, srv, req{path: path}); !strings.Contains(got, want) {
			t.Errorf("%s does not say %q", path, want)
		}
	}
	if resp, _ := call(t, serve(t, newFake(night())), req{path: "/api/v1/limiter?source=325V"}); resp.StatusCode != http.StatusNotFound {
		t.Error("without a judge:", resp.StatusCode)
	}
}
