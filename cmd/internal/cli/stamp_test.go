package cli_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"steadyrail/capture/store"
)

// authority is the program openssl as a time-stamp authority behind a local
// server. Its folder has the certificates.
type authority struct{ dir, url string }

const authorityConfig = `
[req]
distinguished_name = none
prompt = no
[none]
[root]
basicConstraints = critical, CA:TRUE
keyUsage = critical, keyCertSign
[signer]
basicConstraints = CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
[tsa]
default_tsa = bench
[bench]
serial = serial
crypto_device = builtin
signer_cert = signer.pem
signer_key = signer.key
signer_digest = sha256
ess_cert_id_alg = sha256
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1
`

func newAuthority(t *testing.T) *authority {
	t.Helper()
	if _, err := exec.LookPath("openssl"); err != nil {
		const said = "time-stamps NOT CHECKED against an authority: apt-get install openssl"
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal(said)
		}
		t.Skip("SKIPPED: " + said)
	}
	a := &authority{dir: t.TempDir()}
	a.write(t, "conf", []byte(authorityConfig))
	for _, who := range []string{"root", "other"} {
		a.must(t, "req -config conf -nodes -newkey ec -pkeyopt ec_paramgen_curve:P-256 -x509 -days 2 -subj /CN=Bench -extensions root -keyout "+who+".key -out "+who+".pem")
	}
	a.must(t, "req -config conf -nodes -newkey ec -pkeyopt ec_paramgen_curve:P-256 -subj /CN=Clock -keyout signer.key -out signer.csr")
	a.must(t, "x509 -req -in signer.csr -CA root.pem -CAkey root.key -CAcreateserial -days 2 -extfile conf -extensions signer -out signer.pem")
	server := httptest.NewServer(a)
	t.Cleanup(server.Close)
	a.url = server.URL
	return a
}

func (a *authority) openssl(args string) ([]byte, error) {
	cmd := exec.Command("openssl", strings.Fields(args)...)
	cmd.Dir = a.dir
	return cmd.CombinedOutput()
}

func (a *authority) must(t *testing.T, args string) {
	t.Helper()
	if out, err := a.openssl(args); err != nil {
		t.Fatalf("openssl %s: %v\n%s", args, err, out)
	}
}

func (a *authority) write(t *testing.T, name string, b []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(a.dir, name), b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// ServeHTTP answers one request; the test asks one after the other.
func (a *authority) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	query, err := io.ReadAll(r.Body)
	if err == nil {
		err = os.WriteFile(filepath.Join(a.dir, "asked"), query, 0o600)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	out, _ := a.openssl("ts -reply -config conf -queryfile asked -out answer")
	response, err := os.ReadFile(filepath.Join(a.dir, "answer"))
	if err != nil {
		http.Error(w, string(out), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/timestamp-reply")
	_, _ = w.Write(response)
}

// A head goes to an authority and comes back as a stamp in the file, which an
// outside program accepts from there; a record made anew does not come to it.
func TestStamp(t *testing.T) {
	a := newAuthority(t)
	dir := t.TempDir()
	run := func(code int, args ...string) string {
		t.Helper()
		got, out, errs := program(t, dir, args...)
		if got != code {
			t.Fatalf("steadyrail %s ended with %d, not %d:\n%s%s", args, got, code, out, errs)
		}
		return out + errs
	}
	says := func(text, pattern string) {
		t.Helper()
		if !regexp.MustCompile(pattern).MatchString(text) {
			t.Errorf("%q does not match %q", text, pattern)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "scope.csv"), []byte("Time (s),CH1 (V)\n0,5.012\n1,5.013\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	run(0, "import", "scope.csv", "--job", "SCOPE-1", "--start", "2026-03-02T08:00:00Z")
	head := regexp.MustCompile("[0-9a-f]{64}").FindString(run(0, "verify", "SCOPE-1"))
	root, other := filepath.Join(a.dir, "root.pem"), filepath.Join(a.dir, "other.pem")

	says(run(1, "stamp", "SCOPE-1", "--authority", a.url, "--roots", other), "proves nothing")
	says(run(2, "stamp", "SCOPE-1"), "authority")
	says(run(2, "stamp", "SCOPE-1", "--authority", a.url+"/\x7f"), "address")
	says(run(2, "stamp", "SCOPE-1", "--authority", "nonsense"), "write https://")
	says(run(0, "stamp", "SCOPE-1", "--authority", strings.Replace(a.url, "//", "//me:secret@", 1)), "existed by .* ± 1s after the authority "+a.url+", .* after its last record; signature not checked")
	says(run(0, "stamp", "SCOPE-1", "--authority", a.url, "--roots", root), "signed by CN=Clock, checked against .*root.pem; whether its certificate was revoked was not asked")

	said := run(0, "verify", "SCOPE-1", "--head", head)
	says(said, "unchanged since head "+head)
	if n := strings.Count(said, "signature not checked"); n != 2 {
		t.Errorf("%d stamps in\n%s", n, said)
	}
	says(run(0, "verify", "SCOPE-1", "--roots", root), "signed by CN=Clock")
	says(run(1, "verify", "SCOPE-1", "--roots", other), "2 of 2 time-stamps do not hold")
	says(run(2, "verify", "SCOPE-1", "--roots", filepath.Join(dir, "scope.csv")), "no certificate")
	unknown := strings.Repeat("3f2a ", 16)
	says(run(1, "verify", "SCOPE-1", "--head", strings.ToUpper(head), "--head", unknown), "unchanged since head "+head+"(?s:.*)1 of 2 heads are not in its record")

	path := filepath.Join(dir, "bench", "jobs", "SCOPE-1"+store.Extension)
	stamps := stampsOf(t, path)
	for _, s := range stamps {
		a.write(t, "request.tsq", s.Request)
		a.write(t, "response.tsr", s.Response)
		a.must(t, "ts -verify -queryfile request.tsq -in response.tsr -CAfile root.pem")
		a.must(t, "ts -verify -digest "+head+" -in response.tsr -CAfile root.pem")
	}

	// The same import again is a rewritten record: its own hashes agree, and the
	// old stamp shows it.
	run(0, "import", "scope.csv", "--job", "SCOPE-1", "--start", "2026-03-02T08:00:00Z", "--technician", "R. Hale", "--workspace", "anew")
	anew := filepath.Join(dir, "anew", "jobs", "SCOPE-1"+store.Extension)
	keep(t, anew, stamps[0])
	says(run(1, "verify", anew), "the record does not come to that head(?s:.*)1 of 1 time-stamps do not hold")

	run(0, "import", "scope.csv", "--job", "LATER", "--start", "2099-03-02T08:00:00Z")
	says(run(0, "stamp", "LATER", "--authority", a.url), "before its last record: one of the two clocks was wrong")

	w, err := store.OpenWorkspace(filepath.Join(dir, "bench"), store.Options{Address: "127.0.0.1:1"})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	says(run(3, "stamp", path, "--authority", a.url), "workspace is in use: .*; a file is stamped while no daemon holds its workspace")
}

func stampsOf(t *testing.T, path string) []store.Stamp {
	t.Helper()
	f, err := store.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(context.Background())
	stamps, err := f.Stamps(t.Context())
	if err != nil || len(stamps) != 2 || bytes.Equal(stamps[0].Request, stamps[1].Request) {
		t.Fatalf("%d stamps: %v", len(stamps), err)
	}
	for _, s := range stamps {
		if strings.Contains(fmt.Sprint(s.Authority), "secret") {
			t.Errorf("the file tells the password of %s", s.Authority)
		}
	}
	return stamps
}

func keep(t *testing.T, path string, s store.Stamp) {
	t.Helper()
	f, err := store.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close(context.Background())
	if err := f.AddStamp(t.Context(), s); err != nil {
		t.Fatal(err)
	}
}
