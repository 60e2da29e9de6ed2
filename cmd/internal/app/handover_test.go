package app_test

import (
	"bytes"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// phoneFor is a client that trusts one fingerprint, as a person does who compares.
func phoneFor(t *testing.T, print string) *http.Client {
	t.Helper()
	want := strings.ToLower(strings.ReplaceAll(print, ":", ""))
	transport := &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true, VerifyPeerCertificate: func(raw [][]byte, _ [][]*x509.Certificate) error {
		if sum := sha256.Sum256(raw[0]); hex.EncodeToString(sum[:]) != want {
			return errors.New("another certificate")
		}
		return nil
	}}}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport}
}

// upload sends a file as the page does.
func upload(t *testing.T, c *http.Client, to, name string, data []byte, change ...func(*http.Request)) (int, string) {
	t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	_ = form.WriteField("of", "serial plate")
	part, err := form.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	_, _ = part.Write(data)
	form.Close()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, to, &b)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", form.FormDataContentType())
	return send(t, c, req, change...)
}

func send(t *testing.T, c *http.Client, req *http.Request, change ...func(*http.Request)) (int, string) {
	t.Helper()
	for _, f := range change {
		f(req)
	}
	resp, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(body)
}

// A phone reaches one page of one job for a while, and nothing else.
func TestHandover(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.open(jobID)
	ctx := t.Context()
	_, err := r.Handover(ctx, "", 61, "127.0.0.1")
	refused(t, "too long", err, dashboards.Invalid)
	for _, address := range []string{"0.0.0.0", "[::]:9", "bench.example"} {
		_, err = r.Handover(ctx, "", 5, address)
		refused(t, address, err, dashboards.Invalid)
	}
	_, err = r.Handover(ctx, "", 5, "192.0.2.1") // of documents, RFC 5737: no computer has it
	refused(t, "an address of another computer", err, dashboards.Unavailable)
	h, err := r.Handover(ctx, "", 5, "127.0.0.1")
	r.must(err)
	c := phoneFor(t, h.Fingerprint)
	at, err := url.Parse(h.URL)
	r.must(err)
	get := func(path string, change ...func(*http.Request)) (int, string) {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, "https://"+at.Host+path, nil)
		r.must(err)
		return send(t, c, req, change...)
	}
	if code, page := get(at.Path); code != 200 || !strings.Contains(page, "For job "+jobID) || !strings.Contains(page, "Take a picture") {
		t.Errorf("%d %s", code, page)
	}
	for what, path := range map[string]string{"the API": "/api/v1/jobs", "the screens": "/", "a style": "/assets/look.css", "another token": "/AAAAAAAAAAAAAAAAAAAAAA", "metrics": "/metrics", "a path below": at.Path + "/x"} {
		if code, page := get(path); code != 404 || strings.Contains(page, jobID) {
			t.Errorf("%s: %d %s", what, code, page)
		}
	}
	if code, _ := get(at.Path, func(q *http.Request) { q.Host = "bench.example" }); code != http.StatusMisdirectedRequest {
		t.Errorf("a rebound name: %d", code)
	}
	if code, _ := get(at.Path, func(q *http.Request) { q.Method = http.MethodPut }); code != http.StatusMethodNotAllowed {
		t.Errorf("another method: %d", code)
	}
	if code, page := upload(t, c, h.URL, "x.html", photo(t)); code != 200 || !strings.Contains(page, "Kept.") {
		t.Errorf("a picture: %d %s", code, page)
	}
	if code, page := upload(t, c, h.URL, "x.jpg", []byte("<script>")); code != 400 || !strings.Contains(page, "Nothing was kept.") {
		t.Errorf("a page that is called a picture: %d %s", code, page)
	}
	if code, _ := upload(t, c, h.URL, "x.jpg", photo(t), func(q *http.Request) { q.Header.Set("Sec-Fetch-Site", "cross-site") }); code != http.StatusMethodNotAllowed {
		t.Errorf("a form from elsewhere: %d", code)
	}
	_, entries, err := r.JobEntries(ctx, jobID)
	r.must(err)
	n := 0
	for _, e := range entries {
		if e.Act.Verb == capture.ActPicture && e.Act.Subject == "serial plate" {
			n++
		}
	}
	open, ok := r.OpenHandover("")
	if n != 1 || !ok || open.Received != 1 {
		t.Errorf("%d pictures kept, %+v", n, open)
	}

	again, err := r.Handover(ctx, "", 5, "127.0.0.1")
	r.must(err)
	if again.URL == h.URL || again.Fingerprint == h.Fingerprint {
		t.Error("the second page has the first one's token or certificate")
	}
	closed := func(u string) {
		t.Helper()
		c.CloseIdleConnections()
		if resp, err := c.Get(u); err == nil {
			resp.Body.Close()
			t.Errorf("%s still answers", u)
		}
	}
	closed(h.URL)
	_, err = r.EndHandover("")
	r.must(err)
	closed(again.URL)
	_, err = r.EndHandover("")
	refused(t, "closed twice", err, dashboards.NotFound)
	last, err := r.Handover(ctx, "", 5, "127.0.0.1")
	r.must(err)
	r.act(capture.Act{Verb: capture.ActClose})
	c = phoneFor(t, last.Fingerprint)
	closed(last.URL)
	_, entries, err = r.JobEntries(ctx, jobID)
	r.must(err)
	var told []string
	for _, e := range entries {
		if e.Act.Verb == capture.ActHandover {
			told = append(told, strings.TrimSuffix(strings.TrimPrefix(e.Text, "Page for a phone "), "."))
		}
	}
	want := "open for 5 min by R. Hale, closed, 1 file came by it, open for 5 min by R. Hale, closed, nothing came by it, open for 5 min by R. Hale, closed, nothing came by it"
	if got := strings.Join(told, ", "); got != want {
		t.Errorf("the journal: %q", got)
	}
}
