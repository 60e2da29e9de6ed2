package timestamp

import (
	"bytes"
	"errors"
	"testing"
	"time"
)

// TestOutsideAuthority asks, reads and verifies, and lets the outside program
// verify what would be kept.
func TestOutsideAuthority(t *testing.T) {
	for _, c := range []struct {
		name            string
		key             []string
		signing, naming string
	}{
		{"rsa-sha256", rsaKey, "sha256", "sha256"},
		{"rsa-sha384-named-by-sha1", rsaKey, "sha384", "sha1"},
		{"rsa-sha512", rsaKey, "sha512", "sha512"},
		{"ecdsa-sha256", ecKey, "sha256", "sha256"},
		{"ecdsa-sha512", ecKey, "sha512", "sha384"},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOutside(t, c.key, c.signing, c.naming, "sha256")
			r, err := NewRequest([32]byte{1, 2, 3}, nil)
			if err != nil {
				t.Fatal(err)
			}
			response, err := Ask(t.Context(), client(t), o.url, r)
			if err != nil {
				t.Fatal(err)
			}
			token, err := Read(r.DER(), response)
			if err != nil {
				t.Fatal(err)
			}
			if token.Signer != "CN=Bench authority" || token.Policy.String() != "1.2.3.4.1" || token.Serial.Int64() != 1 || !token.AccuracyKnown || token.Accuracy != 1500100*time.Microsecond {
				t.Errorf("read as %+v", token)
			}
			if err := token.VerifySignature(o.roots(t)); err != nil {
				t.Error(err)
			}
			o.write(t, "kept.tsq", r.DER())
			o.write(t, "kept.tsr", response)
			o.must(t, "ts", "-verify", "-queryfile", "kept.tsq", "-in", "kept.tsr", "-CAfile", "root.pem")
		})
	}
}

// TestBothRefuse: what is wrong is refused here and by the outside program.
func TestBothRefuse(t *testing.T) {
	o, foreign := newOutside(t, ecKey, "sha256", "sha256", "sha256"), newOutside(t, ecKey, "sha256", "sha256", "sha256")
	r := request()
	response, err := Ask(t.Context(), client(t), o.url, r)
	if err != nil {
		t.Fatal(err)
	}
	token, err := Read(r.DER(), response)
	if err != nil {
		t.Fatal(err)
	}
	otherNonce, otherDigest := r, r
	otherNonce.nonce++
	otherDigest.digest[0] ^= 1
	const layout = "20060102150405"
	later := bytes.Replace(response, []byte(token.GenTime.Format(layout)), []byte(token.GenTime.AddDate(1, 0, 0).Format(layout)), 1)
	for name, c := range map[string]struct {
		request  Request
		response []byte
		root     *outside
		want     error
	}{
		"other nonce":  {otherNonce, response, o, ErrMismatch},
		"other digest": {otherDigest, response, o, ErrMismatch},
		"other year":   {r, later, o, ErrSignature},
		"other root":   {r, response, foreign, ErrSignature},
		"cut":          {r, response[:len(response)-1], o, ErrMalformed},
	} {
		token, err := Read(c.request.DER(), c.response)
		if err == nil {
			err = token.VerifySignature(c.root.roots(t))
		}
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
		c.root.write(t, "bad.tsq", c.request.DER())
		c.root.write(t, "bad.tsr", c.response)
		if out, err := c.root.run("ts", "-verify", "-queryfile", "bad.tsq", "-in", "bad.tsr", "-CAfile", "root.pem"); err == nil {
			t.Errorf("%s: the outside program accepts it\n%s", name, out)
		}
	}
}

// TestOutsideRefusal: an authority that does not take SHA-256 says so.
func TestOutsideRefusal(t *testing.T) {
	o := newOutside(t, ecKey, "sha256", "sha256", "sha512")
	response, err := Ask(t.Context(), client(t), o.url, request())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Read(request().DER(), response); !errors.Is(err, ErrRefused) {
		t.Errorf("%v", err)
	} else {
		t.Log(err)
	}
}

// TestOutsideReadsRequest: the outside program finds in a request what is meant.
func TestOutsideReadsRequest(t *testing.T) {
	needOpenSSL(t)
	o := &outside{dir: t.TempDir()}
	o.write(t, "q", request().DER())
	out, err := o.run("ts", "-query", "-in", "q", "-text")
	for _, want := range []string{"Version: 1", "Hash Algorithm: sha256", "Nonce: 0x3820627974657321", "Certificate required: yes"} {
		if err != nil || !bytes.Contains(out, []byte(want)) {
			t.Errorf("%q is missing, %v:\n%s", want, err, out)
		}
	}
}
