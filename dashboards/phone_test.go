package dashboards

import (
	"bytes"
	"errors"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
)

// fromPhone posts a file to the page for a phone.
func fromPhone(t *testing.T, h http.Handler, size int) *httptest.ResponseRecorder {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	part, err := form.CreateFormFile("file", "../../x.html")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = part.Write(make([]byte, size))
	form.Close()
	r := httptest.NewRequest(http.MethodPost, "https://192.168.1.20:8471/token", &b)
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestPhoneSaysWhatBecameOfAFile(t *testing.T) {
	var got int
	var answer error
	closed := false
	h := NewPhone(PhoneOptions{Job: "AB-0147", Token: "token", Host: func() string { return "192.168.1.20:8471" }, Closed: func() bool { return closed },
		Take: func(_ *http.Request, f File) (Result, error) {
			got = len(f.Data)
			return Result{Say: "Picture of the <plate>."}, answer
		}})
	if w := fromPhone(t, h, 1000); w.Code != 200 || got != 1000 || !strings.Contains(w.Body.String(), "Picture of the &lt;plate&gt;.") {
		t.Errorf("%d %d %s", w.Code, got, w.Body)
	}
	got = 0
	if w := fromPhone(t, h, MaxFile+2*maxBody); w.Code != http.StatusRequestEntityTooLarge || got != 0 || !strings.Contains(w.Body.String(), "25.2 MB") {
		t.Errorf("too much: %d, %d taken", w.Code, got)
	}
	answer = &Error{Kind: Invalid, Detail: "neither a picture", Err: errors.New("nor a sound")}
	if w := fromPhone(t, h, 10); w.Code != 400 || !strings.Contains(w.Body.String(), "Nothing was kept.") {
		t.Errorf("refused: %d", w.Code)
	}
	closed = true
	if w := fromPhone(t, h, 10); w.Code != 404 || strings.Contains(w.Body.String(), "AB-0147") {
		t.Errorf("closed: %d", w.Code)
	}
}

// Style and script carry the number of this answer, and nothing else may run.
func TestPhonePolicy(t *testing.T) {
	h := NewPhone(PhoneOptions{Job: "AB-0147", Token: "token", Host: func() string { return "192.168.1.20:8471" }, Closed: func() bool { return false }})
	nonce := regexp.MustCompile(`script-src 'nonce-([\w-]{22})'`)
	seen := map[string]bool{}
	for range 2 {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "https://192.168.1.20:8471/token", nil))
		m := nonce.FindStringSubmatch(w.Header().Get("Content-Security-Policy"))
		if m == nil || strings.Count(w.Body.String(), `nonce="`+m[1]+`"`) != 2 || seen[m[1]] {
			t.Errorf("%v %s", m, w.Header())
			continue
		}
		seen[m[1]] = true
	}
}
