package app_test

import (
	"net/http"
	"strings"
	"testing"

	"steadyrail/capture"
)

// The real daemon over real HTTP: a rebound name, a page elsewhere and a
// program without the token get nothing done.
func TestFences(t *testing.T) {
	t.Parallel()
	r := newRig(t, 1)
	_, port, _ := strings.Cut(r.Address(), ":")
	const body = `{"job":"AB-0147","rails":"+5 2%"}`
	header := func(k, v string) func(*http.Request) {
		return func(q *http.Request) { q.Header.Set(k, v) }
	}
	host := func(v string) func(*http.Request) { return func(q *http.Request) { q.Host = v } }
	type change = func(*http.Request)
	for _, c := range []struct {
		what         string
		method, path string
		change       []change
		want         int
	}{
		{"rebound name, looking", "GET", "/api/v1/rails", []change{host("bench.example:" + port)}, 421},
		{"rebound name, acting with the token", "POST", "/api/v1/jobs", []change{host("bench.example:" + port), r.withToken}, 421},
		{"another port", "GET", "/", []change{host("127.0.0.1:1")}, 421},
		{"page elsewhere, by its origin", "POST", "/api/v1/jobs", []change{r.withToken, header("Origin", "https://elsewhere.example")}, 403},
		{"page elsewhere, as the browser says", "POST", "/api/v1/jobs", []change{r.withToken, header("Sec-Fetch-Site", "cross-site")}, 403},
		{"page elsewhere, reading", "GET", "/api/v1/rails", []change{header("Sec-Fetch-Site", "cross-site")}, 403},
		{"a form from elsewhere to the faults", "POST", "/demo/faults", []change{r.withToken, header("Sec-Fetch-Site", "same-site")}, 403},
		{"no token", "POST", "/api/v1/jobs", nil, 401},
		{"wrong token", "POST", "/api/v1/jobs", []change{header("Authorization", "Bearer "+strings.Repeat("0", 32))}, 401},
		{"faults without token", "POST", "/demo/faults", nil, 401},
		{"our own page", "POST", "/api/v1/jobs", []change{r.withToken, header("Origin", "http://"+r.Address()), header("Sec-Fetch-Site", "same-origin")}, 201},
		{"looking by name", "GET", "/healthz", []change{host("localhost:" + port)}, 200},
	} {
		b := body
		if c.method == http.MethodGet {
			b = ""
		}
		if code, answer := r.ask(c.method, c.path, b, c.change...); code != c.want {
			t.Errorf("%s: %d, want %d\n%s", c.what, code, c.want, answer)
		}
	}
	if list, err := r.Jobs(t.Context()); err != nil || len(list) != 1 {
		t.Errorf("jobs %+v, %v: only our own page may have opened one", list, err)
	}
	for _, what := range []string{"export", "report", "transitions"} {
		if code, answer := r.ask("GET", "/api/v1/jobs/AB-9999/"+what, ""); code != 404 || strings.Contains(answer, r.cfg.Workspace) {
			t.Errorf("%s of a job that is not there: %d %s", what, code, answer)
		}
	}
	code, answer := r.ask("POST", "/api/v1/acts", `{"verb":"stage","stage":"soak"}`, r.withToken)
	if code != 422 || !strings.Contains(answer, string(capture.LiveChecks)) {
		t.Errorf("a stage skipped over HTTP: %d %s", code, answer)
	}
}
