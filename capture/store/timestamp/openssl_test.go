package timestamp

import (
	"crypto/x509"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
)

// outside is a time-stamp authority that shares no line with this project: the
// program openssl, behind a local server.
type outside struct {
	dir string
	url string
}

// needOpenSSL skips loudly without the program, and fails where everything has
// to be there.
func needOpenSSL(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("openssl"); err == nil {
		return
	}
	const said = "NOT CHECKED against another authority: apt-get install openssl"
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		t.Fatal(said)
	}
	t.Skip(said)
}

const outsideConfig = `
[req]
distinguished_name = none
prompt = no
[none]
[root]
basicConstraints = critical, CA:TRUE
keyUsage = critical, keyCertSign
subjectKeyIdentifier = hash
[signer]
basicConstraints = CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
subjectKeyIdentifier = hash
authorityKeyIdentifier = keyid
[tsa]
default_tsa = bench
[bench]
serial = serial
crypto_device = builtin
signer_cert = signer.pem
signer_key = signer.key
signer_digest = %s
ess_cert_id_alg = %s
default_policy = 1.2.3.4.1
digests = %s
accuracy = secs:1, millisecs:500, microsecs:100
clock_precision_digits = 3
ordering = yes
tsa_name = yes
`

// newOutside makes the certificates and starts the authority.
func newOutside(t *testing.T, key []string, signing, naming, takes string) *outside {
	t.Helper()
	needOpenSSL(t)
	o := &outside{dir: t.TempDir()}
	if err := os.WriteFile(filepath.Join(o.dir, "conf"), fmt.Appendf(nil, outsideConfig, signing, naming, takes), 0o600); err != nil {
		t.Fatal(err)
	}
	req := func(key []string, args ...string) {
		o.must(t, slices.Concat([]string{"req", "-config", "conf", "-nodes", "-newkey"}, key, args)...)
	}
	req(ecKey, "-x509", "-days", "2", "-subj", "/CN=Bench root", "-extensions", "root", "-keyout", "root.key", "-out", "root.pem")
	req(key, "-subj", "/CN=Bench authority", "-keyout", "signer.key", "-out", "signer.csr")
	o.must(t, "x509", "-req", "-in", "signer.csr", "-CA", "root.pem", "-CAkey", "root.key", "-CAcreateserial", "-days", "2", "-extfile", "conf", "-extensions", "signer", "-out", "signer.pem")
	server := httptest.NewServer(o)
	t.Cleanup(server.Close)
	o.url = server.URL
	return o
}

func (o *outside) run(args ...string) ([]byte, error) {
	cmd := exec.Command("openssl", args...)
	cmd.Dir = o.dir
	return cmd.CombinedOutput()
}

func (o *outside) must(t *testing.T, args ...string) {
	t.Helper()
	if out, err := o.run(args...); err != nil {
		t.Fatalf("openssl %v: %v\n%s", args, err, out)
	}
}

func (o *outside) write(t *testing.T, name string, b []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(o.dir, name), b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// ServeHTTP answers one request; the tests ask one after the other.
func (o *outside) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	query, err := io.ReadAll(r.Body)
	if err != nil || r.Method != http.MethodPost || r.Header.Get("Content-Type") != queryType {
		http.Error(w, "no query", http.StatusBadRequest)
		return
	}
	if err := os.WriteFile(filepath.Join(o.dir, "asked"), query, 0o600); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	// Its exit code tells of a refusal too; what counts is the response.
	out, _ := o.run("ts", "-reply", "-config", "conf", "-queryfile", "asked", "-out", "answer")
	response, err := os.ReadFile(filepath.Join(o.dir, "answer"))
	if err != nil {
		http.Error(w, string(out), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", replyType)
	_, _ = w.Write(response)
}

func (o *outside) roots(t *testing.T) *x509.CertPool {
	t.Helper()
	pem, err := os.ReadFile(filepath.Join(o.dir, "root.pem"))
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(pem) {
		t.Fatal("no root certificate was made")
	}
	return roots
}

var (
	rsaKey = []string{"rsa:2048"}
	ecKey  = []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}
)
