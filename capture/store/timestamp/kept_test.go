package timestamp

import (
	"bytes"
	"crypto/x509"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// kept is what the outside program answered once to [request]: testdata has
// what it said, and its root certificate, which was valid for two days only.
func kept(tb testing.TB) (query, response []byte, roots *x509.CertPool) {
	tb.Helper()
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			tb.Fatal(err)
		}
		return b
	}
	roots = x509.NewCertPool()
	if !roots.AppendCertsFromPEM(read("root.pem")) {
		tb.Fatal("no root certificate in testdata")
	}
	return read("request.tsq"), read("response.tsr"), roots
}

// TestKept: a token counts after its certificates have run out.
func TestKept(t *testing.T) {
	query, response, roots := kept(t)
	token, err := Read(query, response)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(query, request().DER()) {
		t.Error("the request is written otherwise than it was")
	}
	if err := token.VerifySignature(roots); err != nil {
		t.Error(err)
	}
}

// TestEveryBitCounts flips each bit of the response. Either that is refused, or
// it says the same: parts of it are neither signed nor part of the statement.
func TestEveryBitCounts(t *testing.T) {
	query, response, roots := kept(t)
	want, err := Read(query, response)
	if err != nil {
		t.Fatal(err)
	}
	accepted := 0
	for i := range len(response) * 8 {
		bent := bytes.Clone(response)
		bent[i/8] ^= 1 << (i % 8)
		token, err := Read(query, bent)
		if err == nil {
			err = token.VerifySignature(roots)
		}
		if err == nil {
			accepted++
			if !same(token, want) {
				t.Errorf("bit %d of byte %d: read as %+v", i%8, i/8, token)
			}
		} else if !known(err) {
			t.Errorf("bit %d of byte %d: %v", i%8, i/8, err)
		}
	}
	t.Logf("%d of %d flipped bits change nothing that is signed", accepted, len(response)*8)
}

func same(a, b Token) bool {
	return a.GenTime.Equal(b.GenTime) && a.Accuracy == b.Accuracy && a.AccuracyKnown == b.AccuracyKnown &&
		a.Policy.Equal(b.Policy) && a.Serial.Cmp(b.Serial) == 0 && a.Signer == b.Signer
}

// known reports whether an error says which kind it is.
func known(err error) bool {
	for _, sentinel := range []error{ErrRefused, ErrMismatch, ErrMalformed, ErrSignature} {
		if errors.Is(err, sentinel) {
			return true
		}
	}
	return false
}

// FuzzRead replaces a piece of the kept response: short inputs, that the fuzzer
// is quick to shorten further. Whatever comes, an error is of a known kind, and a
// token with an accepted signature says what the kept one says.
func FuzzRead(f *testing.F) {
	query, response, roots := kept(f)
	want, err := Read(query, response)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint(0), uint(0), []byte{})
	f.Add(uint(0), uint(len(response)), der(f, struct{ Status statusInfo }{statusInfo{Status: 2}}))
	f.Add(uint(bytes.Index(response, []byte(want.GenTime.Format("2006")))), uint(4), []byte("2025"))
	f.Fuzz(func(t *testing.T, at, length uint, piece []byte) {
		at = min(at, uint(len(response)))
		end := at + min(length, uint(len(response))-at)
		token, err := Read(query, slices.Concat(response[:at], piece, response[end:]))
		if err == nil {
			err = token.VerifySignature(roots)
		}
		if err == nil && !same(token, want) {
			t.Errorf("accepted as %+v", token)
		}
		if err != nil && !known(err) {
			t.Error(err)
		}
	})
}

// FuzzParseRequest: what is read is written as it was.
func FuzzParseRequest(f *testing.F) {
	f.Add(request().DER())
	f.Add(Request{}.DER())
	f.Fuzz(func(t *testing.T, der []byte) {
		r, err := ParseRequest(der)
		if err != nil {
			if !errors.Is(err, ErrMalformed) {
				t.Error(err)
			}
			return
		}
		if !bytes.Equal(r.DER(), der) {
			t.Errorf("%x was written as %x", der, r.DER())
		}
	})
}
