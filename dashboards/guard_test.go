package dashboards_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"steadyrail/dashboards"
)

// serve starts a real server over a fake bench.
func serve(t *testing.T, b *fakeBench, with ...func(*dashboards.Options)) *httptest.Server {
	t.Helper()
	o := dashboards.Options{Bench: b, Token: token, Zone: time.UTC}
	for _, w := range with {
		w(&o)
	}
	srv := httptest.NewServer(dashboards.New(o))
	t.Cleanup(func() { srv.CloseClientConnections(); srv.Close() })
	return srv
}

type req struct {
	method, path, body string
	host               string
	head               map[string]string
}

// call makes a request that follows no redirect.
func call(t *testing.T, srv *httptest.Server, q req) (*http.Response, string) {
	t.Helper()
	if q.method == "" {
		q.method = "GET"
	}
	r, err := http.NewRequest(q.method, srv.URL+q.path, strings.NewReader(q.body))
	if err != nil {
		t.Fatal(err)
	}
	if q.host != "" {
		r.Host = q.host
	}
	for k, v := range q.head {
		r.Header.Set(k, v)
	}
	client := &http.Client{Transport: srv.Client().Transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(b)
}

var bearer = map[string]string{"Authorization": "Bearer " + token, "Content-Type": "application/json"}

func with(head map[string]string, more ...string) map[string]string {
	out := map[string]string{}
	for k, v := range head {
		out[k] = v
	}
	for i := 0; i+1 < len(more); i += 2 {
		out[more[i]] = more[i+1]
	}
	return out
}

func TestHostAllowList(t *testing.T) {
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Hosts = []string{"bench-east.lan", "proxy.lan:9000"} })
	port := strings.TrimPrefix(srv.URL, "http://127.0.0.1")
	for host, want := range map[string]int{
		"127.0.0.1" + port: 200, "localhost" + port: 200, "LOCALHOST" + port: 200, "[::1]" + port: 200, "bench-east.lan": 200, "bench-east.lan:1234": 200, "proxy.lan:9000": 200,
		"evil.example": 421, "evil.example" + port: 421, "127.0.0.1.evil.example" + port: 421, "127.0.0.1:1": 421, "proxy.lan:9001": 421, "localhost.evil": 421,
	} {
		for _, path := range []string{"/", "/api/v1/rails", "/metrics", "/assets/look.css", "/healthz"} {
			resp, body := call(t, srv, req{path: path, host: host})
			if resp.StatusCode != want && !(want == 200 && path == "/metrics" && resp.StatusCode == 404) {
				t.Errorf("%s with Host %s: %d, want %d\n%s", path, host, resp.StatusCode, want, body)
			}
			if want == 421 && strings.Contains(body, "Alderbrook") {
				t.Errorf("%s with Host %s gives data away", path, host)
			}
		}
	}
}

// A proven hole: a rebound name with Sec-Fetch-Site:
// same-origin passes http.CrossOriginProtection.
func TestReboundHostMayNotAct(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	resp, _ := call(t, srv, req{method: "POST", path: "/api/v1/acts", host: "evil.example", body: `{"verb":"output","subject":"supply","text":"on"}`,
		head: with(bearer, "Sec-Fetch-Site", "same-origin", "Origin", "http://evil.example")})
	if resp.StatusCode != http.StatusMisdirectedRequest || len(b.acts()) != 0 {
		t.Errorf("status %d, did %v", resp.StatusCode, b.acts())
	}
}

func TestOtherSitesAreRefused(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	for name, q := range map[string]req{
		"post, cross-site":       {method: "POST", path: "/api/v1/acts", head: with(bearer, "Sec-Fetch-Site", "cross-site")},
		"post, other port":       {method: "POST", path: "/api/v1/acts", head: with(bearer, "Sec-Fetch-Site", "same-site")},
		"post, foreign origin":   {method: "POST", path: "/api/v1/acts", head: with(bearer, "Origin", "http://evil.example")},
		"form, foreign origin":   {method: "POST", path: "/acts", head: map[string]string{"Origin": "null", "Content-Type": "application/x-www-form-urlencoded"}},
		"get data":               {path: "/api/v1/rails", head: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "cors"}},
		"get data by navigation": {path: "/api/v1/rails", head: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}},
		"stream":                 {path: "/api/v1/stream", head: map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}},
		"page in a frame":        {path: "/", head: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}},
	} {
		q.body = `{"verb":"note","text":"x"}`
		if resp, body := call(t, srv, q); resp.StatusCode != http.StatusForbidden {
			t.Errorf("%s: %d %s", name, resp.StatusCode, body)
		}
	}
	if len(b.acts()) != 0 {
		t.Errorf("did %v", b.acts())
	}
	if resp, _ := call(t, srv, req{path: "/", head: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}}); resp.StatusCode != 200 {
		t.Errorf("a plain link from elsewhere: %d", resp.StatusCode)
	}
}

func TestHeaders(t *testing.T) {
	srv := serve(t, newFake(night()))
	for _, path := range []string{"/", "/api/v1/rails", "/nowhere", "/assets/page.js"} {
		resp, _ := call(t, srv, req{path: path})
		csp := resp.Header.Get("Content-Security-Policy")
		if strings.Contains(csp, "unsafe") || !strings.Contains(csp, "default-src 'none'") || !strings.Contains(csp, "frame-ancestors 'none'") {
			t.Errorf("%s: policy %q", path, csp)
		}
		if resp.Header.Get("X-Content-Type-Options") != "nosniff" || resp.Header.Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("%s: headers %v", path, resp.Header)
		}
	}
}

// From another computer even looking needs the token.
func TestFromAnotherComputer(t *testing.T) {
	h := dashboards.New(dashboards.Options{Bench: newFake(night()), Token: token, Hosts: []string{"bench.lan"}})
	get := func(path, auth string) int {
		r := httptest.NewRequest("GET", "http://bench.lan"+path, nil)
		r.RemoteAddr = "192.0.2.7:5000"
		r.Header.Set("Authorization", auth)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	if got := get("/api/v1/rails", ""); got != 401 {
		t.Errorf("without token: %d", got)
	}
	if got := get("/", ""); got != 401 {
		t.Errorf("page without token: %d", got)
	}
	if got := get("/api/v1/rails", "Bearer "+token); got != 200 {
		t.Errorf("with token: %d", got)
	}
	for _, page := range []string{"/", "/rail", "/trim", "/rail/x", "/alarms", "/rules", "/standin", "/isolate", "/walk", "/soak", "/discharge", "/job", "/health", "/report"} {
		if got := get(page+"?token="+token, ""); got != 303 {
			t.Errorf("token link to %s: %d", page, got)
		}
	}
	if got := get("/api/v1/rails?token=nonsense", ""); got == 200 {
		t.Error("a token parameter opens the API")
	}
}

func TestBodiesAreBounded(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	long := strings.Repeat("x", 70<<10)
	resp, body := call(t, srv, req{method: "POST", path: "/api/v1/acts", body: `{"verb":"note","text":"` + long + `"}`, head: bearer})
	if resp.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("%d %s", resp.StatusCode, body)
	}
	cookie, nonce := session(t, srv)
	resp, _ = call(t, srv, req{method: "POST", path: "/acts", body: url.Values{"nonce": {nonce}, "text": {long}}.Encode(), head: map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}})
	if resp.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("form: %d", resp.StatusCode)
	}
	if len(b.acts()) != 0 {
		t.Errorf("did %v", b.acts())
	}
}

func problem(t *testing.T, body string) dashboards.Problem {
	t.Helper()
	var p dashboards.Problem
	if err := json.Unmarshal([]byte(body), &p); err != nil {
		t.Fatalf("%v in %s", err, body)
	}
	return p
}
