package dashboards_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/dashboards"
)

func isolating(o *dashboards.Options) { o.Isolate = dashboards.PaperIsolator{} }

func TestIsolateAPI(t *testing.T) {
	srv := serve(t, newFake(night()), isolating)
	for _, c := range []struct {
		method, path, body string
		head               map[string]string
		code               int
		words              string
	}{
		{"GET", "/api/v1/isolate?job=AB-0147", "", bearer, http.StatusOK, `"word":"convicted"`},
		{"GET", "/api/v1/boards", "", bearer, http.StatusOK, `"file":"supply"`},
		{"GET", "/api/v1/boards/supply", "", bearer, http.StatusOK, `"text":"t"`},
		{"POST", "/api/v1/isolate", `{"entry":"lift C104"}`, bearer, http.StatusCreated, "Filed: lift C104"},
		{"POST", "/api/v1/isolate", `{"entry":"lift C104"}`, nil, http.StatusUnauthorized, "token"},
		{"POST", "/api/v1/isolate", `{"entry":"lift C104","anew":"x"}`, bearer, http.StatusBadRequest, "say one of"},
		{"POST", "/api/v1/isolate", `{}`, bearer, http.StatusBadRequest, "say one of"},
		{"POST", "/api/v1/isolate", `{"entri":"x"}`, bearer, http.StatusBadRequest, "entri"},
		{"POST", "/api/v1/isolate", `{"entry":"lift X"}`, bearer, http.StatusBadRequest, "there is no X"},
	} {
		head := map[string]string{"Content-Type": "application/json"}
		for k, v := range c.head {
			head[k] = v
		}
		resp, body := call(t, srv, req{method: c.method, path: c.path, body: c.body, head: head})
		if resp.StatusCode != c.code || !strings.Contains(body, c.words) {
			t.Errorf("%s %s %s: %d %s", c.method, c.path, c.body, resp.StatusCode, body)
		}
	}
	bare := serve(t, newFake(night()))
	for _, path := range []string{"/api/v1/isolate", "/api/v1/boards", "/api/v1/boards/x"} {
		if resp, _ := call(t, bare, req{path: path, head: bearer}); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s without an isolator: %d", path, resp.StatusCode)
		}
	}
}

// The page says the two-by-two, the ledger, the shares and the next entry; what
// was refused stays in its field.
func TestIsolatePage(t *testing.T) {
	srv := serve(t, newFake(night()), isolating)
	_, page := call(t, srv, req{path: "/isolate"})
	for _, want := range []string{"PS2 is convicted", "First: source or load of", "Repair the source", "only below 0.97 Ω; use four wires, or walk the short", "91&nbsp;%", "between C104 and CN3", "never steady", "Contradiction", "unlock at the foot"} {
		if !strings.Contains(strings.ReplaceAll(page, "\u00a0", "&nbsp;"), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, "File it") {
		t.Error("a form is offered to who may not")
	}
	cookie, nonce := session(t, srv)
	head := map[string]string{"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
	early := url.Values{"nonce": {nonce}, "entry": {"lift C105"}}
	if resp, page := call(t, srv, req{method: "POST", path: "/isolate", body: early.Encode(), head: head}); resp.StatusCode != http.StatusOK || !strings.Contains(page, "belongs to the stage isolate") || !strings.Contains(page, "It is lifted all the same") {
		t.Errorf("a lift before its stage: %d", resp.StatusCode)
	}
	early.Set("sure", "yes")
	if resp, page := call(t, srv, req{method: "POST", path: "/isolate", body: early.Encode(), head: head}); strings.Contains(page, "not filed") {
		t.Errorf("all the same: %d", resp.StatusCode)
	}
	resp, page := call(t, srv, req{method: "POST", path: "/isolate", body: url.Values{"nonce": {nonce}, "entry": {"lift X"}}.Encode(), head: head})
	if resp.StatusCode != http.StatusOK || !strings.Contains(page, "That was not filed") || !strings.Contains(page, `value="lift X"`) {
		t.Errorf("a refusal: %d", resp.StatusCode)
	}
	if resp, _ := call(t, srv, req{method: "POST", path: "/isolate", body: url.Values{"nonce": {nonce}, "entry": {"load audio board plus"}, "answer": {"ok"}}.Encode(), head: head}); resp.StatusCode != http.StatusSeeOther && resp.StatusCode != http.StatusOK {
		t.Errorf("filed: %d", resp.StatusCode)
	}
}
