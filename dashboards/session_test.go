package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"steadyrail/dashboards"
)

func TestEveryActNeedsTheToken(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	for _, path := range []string{"/api/v1/acts", "/api/v1/entries", "/api/v1/placements", "/api/v1/jobs", "/api/v1/reload", "/acts", "/jobs", "/placements", "/entries"} {
		for name, auth := range map[string]string{"none": "", "wrong": "Bearer " + token + "x", "empty": "Bearer ", "basic": "Basic " + token} {
			resp, body := call(t, srv, req{method: "POST", path: path, body: `{}`, head: map[string]string{"Authorization": auth, "Content-Type": "application/json"}})
			if resp.StatusCode != http.StatusUnauthorized || resp.Header.Get("WWW-Authenticate") == "" {
				t.Errorf("%s, token %s: %d %s", path, name, resp.StatusCode, body)
			}
		}
	}
	if len(b.acts()) != 0 {
		t.Errorf("did %v", b.acts())
	}
}

func TestWithoutATokenNobodyMayAct(t *testing.T) {
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.Token = "" })
	for _, auth := range []string{"Bearer ", "Bearer", ""} {
		if resp, _ := call(t, srv, req{method: "POST", path: "/api/v1/acts", body: `{}`, head: map[string]string{"Authorization": auth}}); resp.StatusCode != 401 {
			t.Errorf("%q: %d", auth, resp.StatusCode)
		}
	}
	if resp, _ := call(t, srv, req{path: "/?token="}); resp.StatusCode != 401 {
		t.Errorf("an empty token opened a session: %d", resp.StatusCode)
	}
}

// session opens a page with the token link and returns cookie and nonce.
func session(t *testing.T, srv *httptest.Server) (cookie, nonce string) {
	t.Helper()
	resp, _ := call(t, srv, req{path: "/job?token=" + token + "&theme=dark"})
	if resp.StatusCode != http.StatusSeeOther || resp.Header.Get("Location") != "/job?theme=dark" {
		t.Fatalf("token link: %d to %q", resp.StatusCode, resp.Header.Get("Location"))
	}
	c := resp.Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || strings.Contains(c.Value, token) {
		t.Errorf("cookie %v: must be HttpOnly, SameSite=Strict and not the token", c)
	}
	_, body := call(t, srv, req{path: "/job", head: map[string]string{"Cookie": c.Name + "=" + c.Value}})
	_, rest, ok := strings.Cut(body, `name="nonce" value="`)
	if !ok {
		t.Fatal("the unlocked page has no form")
	}
	nonce, _, _ = strings.Cut(rest, `"`)
	return c.Name + "=" + c.Value, nonce
}

func TestSessionActsWithItsNonceOnly(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b)
	cookie, nonce := session(t, srv)
	otherCookie, otherNonce := session(t, srv)
	form := func(cookie, nonce string) int {
		v := url.Values{"verb": {"note"}, "text": {"tap test"}, "nonce": {nonce}, "back": {"/job"}}
		resp, _ := call(t, srv, req{method: "POST", path: "/acts", body: v.Encode(), head: map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}})
		return resp.StatusCode
	}
	if got := form(cookie, nonce); got != http.StatusSeeOther {
		t.Errorf("own nonce: %d", got)
	}
	for name, got := range map[string]int{"no nonce": form(cookie, ""), "nonce of another session": form(cookie, otherNonce), "of this in the other": form(otherCookie, nonce)} {
		if got != http.StatusForbidden {
			t.Errorf("%s: %d", name, got)
		}
	}
	name, value, _ := strings.Cut(cookie, "=")
	if got := form(name+"="+value+"x", nonce); got != http.StatusUnauthorized {
		t.Errorf("forged cookie: %d", got)
	}
	resp, _ := call(t, srv, req{method: "POST", path: "/api/v1/acts", body: `{"verb":"note","text":"by script"}`, head: map[string]string{"Cookie": cookie, "Content-Type": "application/json", "X-Steadyrail-Nonce": nonce}})
	if resp.StatusCode != http.StatusCreated {
		t.Errorf("script with nonce: %d", resp.StatusCode)
	}
	if got := b.acts(); len(got) != 2 {
		t.Errorf("did %v", got)
	}
}

func TestLockedPageHasNoFormsAndSaysHowToUnlock(t *testing.T) {
	srv := serve(t, newFake(trouble()))
	for _, path := range []string{"/", "/job", "/alarms", "/rail/+5%20V%20logic"} {
		_, body := call(t, srv, req{path: path})
		if strings.Contains(body, `action="/acts"`) || !strings.Contains(body, `action="/unlock"`) {
			t.Errorf("%s: forms on a locked page, or no way to unlock it", path)
		}
	}
	resp, _ := call(t, srv, req{method: "POST", path: "/unlock", body: url.Values{"token": {" " + token + "\n"}, "back": {"/alarms"}}.Encode(), head: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}})
	if resp.StatusCode != 303 || resp.Header.Get("Location") != "/alarms" || len(resp.Cookies()) != 1 {
		t.Errorf("unlock: %d %v", resp.StatusCode, resp.Header)
	}
}

func TestRedirectsStayHere(t *testing.T) {
	srv := serve(t, newFake(night()))
	for _, back := range []string{"https://evil.example/", "//evil.example", `/\evil.example`, "javascript:alert(1)", "evil", ""} {
		resp, _ := call(t, srv, req{method: "POST", path: "/unlock", body: url.Values{"token": {token}, "back": {back}}.Encode(), head: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}})
		if got := resp.Header.Get("Location"); got != "/" {
			t.Errorf("back to %q leads to %q", back, got)
		}
	}
}
