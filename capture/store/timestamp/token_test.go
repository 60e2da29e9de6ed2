package timestamp

import (
	"bytes"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"errors"
	"math/big"
	"testing"
	"time"
)

func TestToken(t *testing.T) {
	a := newAuthority(t, nil)
	token, err := Read(request().DER(), a.answer(t, request()))
	if err != nil {
		t.Fatal(err)
	}
	if !token.GenTime.Equal(stamped) || token.GenTime.Location() != time.UTC || !token.AccuracyKnown || token.Accuracy != 1500*time.Millisecond ||
		token.Policy.String() != "1.2.3.4" || token.Serial.Int64() != 77 || token.Signer != "CN=Bench authority" {
		t.Errorf("read as %+v", token)
	}
	if err := token.VerifySignature(pool(a.root)); err != nil {
		t.Error(err)
	}
}

// TestReadRefuses changes one thing that Read must see.
func TestReadRefuses(t *testing.T) {
	otherDigest, otherNonce := request(), request()
	otherDigest.digest[31] ^= 1
	otherNonce.nonce++
	at := func(s string, tag int) spoil {
		return spoil{info: func(i *tstInfo) { i.GenTime = asn1.RawValue{Tag: tag, Bytes: []byte(s)} }}
	}
	for name, c := range map[string]struct {
		about  Request
		status int
		spoil  spoil
		want   error
	}{
		"granted with modifications": {about: request(), status: 1},
		"no accuracy":                {about: request(), spoil: spoil{info: func(i *tstInfo) { i.Accuracy = accuracy{} }}},
		"rejected":                   {about: request(), status: 2, want: ErrRefused},
		"waiting":                    {about: request(), status: 3, want: ErrRefused},
		"negative status":            {about: request(), status: -1, want: ErrRefused},
		"another digest":             {about: otherDigest, want: ErrMismatch},
		"another nonce":              {about: otherNonce, want: ErrMismatch},
		"no nonce":                   {about: request(), spoil: spoil{info: func(i *tstInfo) { i.Nonce = nil }}, want: ErrMismatch},
		"another algorithm":          {about: request(), spoil: spoil{info: func(i *tstInfo) { i.Imprint.Algorithm.Algorithm = oidSHA512 }}, want: ErrMismatch},
		"another version":            {about: request(), spoil: spoil{info: func(i *tstInfo) { i.Version = 2 }}, want: ErrMalformed},
		"local time":                 {about: request(), spoil: at("20310405060708+0100", asn1.TagGeneralizedTime), want: ErrMalformed},
		"fraction ends in 0":         {about: request(), spoil: at("20310405060708.10Z", asn1.TagGeneralizedTime), want: ErrMalformed},
		"short year":                 {about: request(), spoil: at("310405060708Z", asn1.TagUTCTime), want: ErrMalformed},
		"negative accuracy":          {about: request(), spoil: spoil{info: func(i *tstInfo) { i.Accuracy.Seconds = -1 }}, want: ErrMalformed},
		"unknown critical extension": {about: request(), spoil: spoil{info: func(i *tstInfo) {
			i.Extensions = []pkix.Extension{{Id: oidInfo, Critical: true, Value: []byte{5, 0}}}
		}}, want: ErrMalformed},
		"no signer":     {about: request(), spoil: spoil{data: func(d *signedData) { d.Signers = nil }}, want: ErrMalformed},
		"two signers":   {about: request(), spoil: spoil{data: func(d *signedData) { d.Signers = append(d.Signers, d.Signers[0]) }}, want: ErrMalformed},
		"other content": {about: request(), spoil: spoil{data: func(d *signedData) { d.Content.Type = oidSigned }}, want: ErrMalformed},
	} {
		t.Run(name, func(t *testing.T) {
			a := newAuthority(t, nil)
			a.status, a.spoil = c.status, c.spoil
			token, err := Read(request().DER(), a.answer(t, c.about))
			if !errors.Is(err, c.want) {
				t.Fatalf("read: %v, want %v", err, c.want)
			}
			if err == nil && token.AccuracyKnown == (name == "no accuracy") {
				t.Errorf("read as %+v", token)
			}
		})
	}
}

// TestSignatureRefuses changes one thing that only VerifySignature sees.
func TestSignatureRefuses(t *testing.T) {
	digest := sha256.Sum256(nil)
	usage := func(value []byte, critical bool) func(*x509.Certificate) {
		return func(c *x509.Certificate) { c.ExtraExtensions[0].Value, c.ExtraExtensions[0].Critical = value, critical }
	}
	only, _ := asn1.Marshal([]asn1.ObjectIdentifier{{1, 3, 6, 1, 5, 5, 7, 3, 8}})
	server, _ := asn1.Marshal([]asn1.ObjectIdentifier{{1, 3, 6, 1, 5, 5, 7, 3, 1}})
	both, _ := asn1.Marshal([]asn1.ObjectIdentifier{{1, 3, 6, 1, 5, 5, 7, 3, 8}, {1, 3, 6, 1, 5, 5, 7, 3, 1}})
	for name, c := range map[string]struct {
		cert  func(*x509.Certificate)
		spoil spoil
		ok    bool
	}{
		"named by its key":           {ok: true, spoil: spoil{signer: byKey("bench")}},
		"named by wrong key":         {spoil: spoil{signer: byKey("other")}},
		"certificate left out":       {spoil: spoil{data: func(d *signedData) { d.Certificates = asn1.RawValue{} }}},
		"no content type":            {spoil: spoil{attributes: without(oidContentType)}},
		"other content type":         {spoil: spoil{attributes: with(oidContentType, der(t, oidSigned))}},
		"no message digest":          {spoil: spoil{attributes: without(oidMessageDigest)}},
		"other digest":               {spoil: spoil{attributes: with(oidMessageDigest, der(t, digest[:]))}},
		"digest twice":               {spoil: spoil{attributes: func(all []attribute) []attribute { return append(all, all[1]) }}},
		"names no one":               {spoil: spoil{attributes: without(oidSigningCertV2)}},
		"names an empty list":        {spoil: spoil{attributes: with(oidSigningCertV2, der(t, signingCert{Certs: []certID{}}))}},
		"names another":              {spoil: spoil{attributes: with(oidSigningCertV2, der(t, signingCert{Certs: []certID{{Hash: digest[:]}}}))}},
		"names by unknown algorithm": {spoil: spoil{attributes: with(oidSigningCertV2, der(t, signingCert{Certs: []certID{{Algorithm: pkix.AlgorithmIdentifier{Algorithm: oidInfo}, Hash: digest[:]}}}))}},
		"no attributes":              {spoil: spoil{signer: func(s *signerInfo) { s.Signed = asn1.RawValue{} }}},
		"statement exchanged": {spoil: spoil{data: func(d *signedData) {
			d.Content.Content = bytes.Replace(d.Content.Content, []byte("2031"), []byte("2030"), 1)
		}}},
		"signature bent":    {spoil: spoil{signer: func(s *signerInfo) { s.Signature[len(s.Signature)-1] ^= 1 }}},
		"unknown signature": {spoil: spoil{signer: func(s *signerInfo) { s.SignatureAlgorithm.Algorithm = oidInfo }}},
		"digests disagree":  {spoil: spoil{signer: func(s *signerInfo) { s.SignatureAlgorithm.Algorithm = oidEC384 }}},
		"unknown digest":    {spoil: spoil{signer: func(s *signerInfo) { s.DigestAlgorithm.Algorithm = oidInfo }}},
		"for servers":       {cert: usage(server, true)},
		"for servers too":   {cert: usage(both, true)},
		"not critical":      {cert: usage(only, false)},
		"for anything":      {cert: func(c *x509.Certificate) { c.ExtraExtensions = nil }},
		"not yet valid":     {cert: func(c *x509.Certificate) { c.NotBefore = stamped.Add(time.Second) }},
		"no longer valid":   {cert: func(c *x509.Certificate) { c.NotAfter = stamped.Add(-time.Second) }},
	} {
		t.Run(name, func(t *testing.T) {
			a := newAuthority(t, c.cert)
			a.spoil = c.spoil
			token, err := Read(request().DER(), a.answer(t, request()))
			if err != nil {
				t.Fatal(err)
			}
			if err := token.VerifySignature(pool(a.root)); (err == nil) != c.ok || err != nil && !errors.Is(err, ErrSignature) {
				t.Errorf("verified: %v", err)
			}
		})
	}
}

func byKey(id string) func(*signerInfo) {
	return func(s *signerInfo) {
		s.ID = asn1.RawValue{Class: asn1.ClassContextSpecific, Bytes: []byte(id)}
	}
}

func TestRootsDecide(t *testing.T) {
	a, foreign := newAuthority(t, nil), newAuthority(t, nil)
	token, err := Read(request().DER(), a.answer(t, request()))
	if err != nil {
		t.Fatal(err)
	}
	for name, roots := range map[string]*x509.CertPool{"foreign": pool(foreign.root), "empty": pool(), "nil": nil} {
		if err := token.VerifySignature(roots); !errors.Is(err, ErrSignature) {
			t.Errorf("%s roots: %v", name, err)
		}
	}
	if err := (Token{}).VerifySignature(pool(a.root)); !errors.Is(err, ErrSignature) {
		t.Errorf("zero token: %v", err)
	}
}

// TestReasons: what an authority says is told to the person, quoted.
func TestReasons(t *testing.T) {
	text := asn1.RawValue{Tag: asn1.TagUTF8String, Bytes: []byte("closed\x1b[2J")}
	refused := der(t, struct{ Status statusInfo }{statusInfo{2, []asn1.RawValue{text}, asn1.BitString{Bytes: []byte{0x80}, BitLength: 1}}})
	_, err := Read(request().DER(), refused)
	const want = `read time-stamp response: the time-stamp authority refused: status 2, it does not know the digest algorithm, "closed\x1b[2J"; ask its operator, or ask another authority`
	if !errors.Is(err, ErrRefused) || err.Error() != want {
		t.Errorf("%v", err)
	}
	if _, err := Read(request().DER(), der(t, struct{ Status statusInfo }{})); !errors.Is(err, ErrMalformed) {
		t.Errorf("granted without a token: %v", err)
	}
}

func TestReadNeedsRequest(t *testing.T) {
	a := newAuthority(t, nil)
	if _, err := Read(nil, a.answer(t, request())); !errors.Is(err, ErrMalformed) {
		t.Errorf("%v", err)
	}
}

func TestLargeSerial(t *testing.T) {
	a := newAuthority(t, nil)
	large := new(big.Int).Lsh(big.NewInt(1), 159) // up to 160 bits (RFC 3161, 2.4.2)
	a.spoil.info = func(i *tstInfo) { i.Serial = large }
	if token, err := Read(request().DER(), a.answer(t, request())); err != nil || token.Serial.Cmp(large) != 0 {
		t.Errorf("%v, %v", token.Serial, err)
	}
}
