package timestamp

import (
	"bytes"
	"crypto"
	_ "crypto/sha1" // names of certificates in older tokens
	_ "crypto/sha256"
	_ "crypto/sha512"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"errors"
	"fmt"
	"slices"
)

// VerifySignature checks that the token is signed, and by whom (RFC 3161,
// section 2.3 and 2.4.2; RFC 5652, section 5.4 and 5.6): RSA (PKCS #1 v1.5) or
// ECDSA with SHA-256, SHA-384 or SHA-512, by a certificate that is in the token,
// made for time-stamping alone, and at GenTime in a valid chain to one of roots.
// It does not ask whether a certificate was revoked. All errors are
// [ErrSignature].
func (t Token) VerifySignature(roots *x509.CertPool) error {
	if err := t.verify(roots); err != nil {
		return fmt.Errorf("verify time-stamp: %w: %w", ErrSignature, err)
	}
	return nil
}

func (t Token) verify(roots *x509.CertPool) error {
	if t.cert == nil {
		return errors.New("the signer's certificate is not in the token; ask the authority for another token")
	}
	if roots == nil {
		return errors.New("nobody is trusted; give the authority's root certificate")
	}
	if err := t.signedAttributes(); err != nil {
		return fmt.Errorf("%w; do not rely on this token, ask for another", err)
	}
	algorithm, err := t.signed.algorithm()
	if err != nil {
		return err
	}
	// What is signed is the attributes as the SET they are, not under the tag
	// that they have in the token (RFC 5652, section 5.4).
	set := bytes.Clone(t.signed.Signed.FullBytes)
	set[0] = asn1.TagSet | 0x20
	if err := t.cert.CheckSignature(algorithm, set, t.signed.Signature); err != nil {
		return fmt.Errorf("signed by %.200q: %w; do not rely on this token, ask for another", t.Signer, err)
	}
	return t.chain(roots)
}

// signedAttributes checks that what is signed is about this statement and this
// certificate.
func (t Token) signedAttributes() error {
	hash, ok := hashOf(t.signed.DigestAlgorithm.Algorithm)
	if !ok {
		return fmt.Errorf("the digest algorithm %v is none of SHA-256, SHA-384, SHA-512", t.signed.DigestAlgorithm.Algorithm)
	}
	var kind asn1.ObjectIdentifier
	if err := t.signed.attribute(oidContentType, &kind); err != nil || !kind.Equal(oidInfo) {
		return fmt.Errorf("signed is content of type %v, not a time-stamp", kind)
	}
	var digest []byte
	if err := t.signed.attribute(oidMessageDigest, &digest); err != nil || !bytes.Equal(digest, sum(hash, t.info)) {
		return errors.New("what is signed is not what the token says")
	}
	return t.namesSigner()
}

// namesSigner checks the signed hash of the signer's certificate, without which
// another certificate with the same key could be put in its place.
func (t Token) namesSigner() error {
	var named signingCert
	hash := crypto.SHA256 // the default (RFC 5035, section 4)
	if err := t.signed.attribute(oidSigningCertV2, &named); err != nil {
		hash = crypto.SHA1 // the only one (RFC 2634, section 5.4.1)
		if err := t.signed.attribute(oidSigningCert, &named); err != nil {
			return errors.New("the signature does not name its certificate")
		}
	}
	if len(named.Certs) == 0 {
		return errors.New("the signature does not name its certificate")
	}
	if first := named.Certs[0]; len(first.Algorithm.Algorithm) > 0 {
		var ok bool
		if hash, ok = hashOf(first.Algorithm.Algorithm); !ok {
			return fmt.Errorf("its certificate is named by the unknown algorithm %v", first.Algorithm.Algorithm)
		}
	}
	if !bytes.Equal(named.Certs[0].Hash, sum(hash, t.cert.Raw)) {
		return errors.New("the signature names another certificate")
	}
	return nil
}

// attribute reads the one value of a signed attribute that must be there once
// (RFC 5652, section 11).
func (s signerInfo) attribute(kind asn1.ObjectIdentifier, into any) error {
	found := errors.New("it is missing")
	for rest := s.Signed.Bytes; len(rest) > 0; {
		var a attribute
		var err error
		if rest, err = asn1.Unmarshal(rest, &a); err != nil {
			return err
		}
		if !a.Type.Equal(kind) {
			continue
		}
		if found == nil || len(a.Values) != 1 {
			return errors.New("it is there more than once")
		}
		if found = unmarshal(a.Values[0].FullBytes, into); found != nil {
			return found
		}
	}
	return found
}

// signatureKinds says which digests go with a signature algorithm.
var signatureKinds = []struct {
	signature, digest asn1.ObjectIdentifier
	is                x509.SignatureAlgorithm
}{
	{oidRSA, oidSHA256, x509.SHA256WithRSA}, {oidRSA, oidSHA384, x509.SHA384WithRSA}, {oidRSA, oidSHA512, x509.SHA512WithRSA},
	{oidRSA256, oidSHA256, x509.SHA256WithRSA}, {oidRSA384, oidSHA384, x509.SHA384WithRSA}, {oidRSA512, oidSHA512, x509.SHA512WithRSA},
	{oidEC256, oidSHA256, x509.ECDSAWithSHA256}, {oidEC384, oidSHA384, x509.ECDSAWithSHA384}, {oidEC512, oidSHA512, x509.ECDSAWithSHA512},
}

func (s signerInfo) algorithm() (x509.SignatureAlgorithm, error) {
	for _, k := range signatureKinds {
		if k.signature.Equal(s.SignatureAlgorithm.Algorithm) && k.digest.Equal(s.DigestAlgorithm.Algorithm) {
			return k.is, nil
		}
	}
	return 0, fmt.Errorf("this program does not know the signature algorithm %v with %v; let another program check the token",
		s.SignatureAlgorithm.Algorithm, s.DigestAlgorithm.Algorithm)
}

// chain checks the signer's certificate: for time-stamping alone, and said so
// critically (RFC 3161, section 2.3), in a chain that was valid at GenTime.
func (t Token) chain(roots *x509.CertPool) error {
	alone := len(t.cert.ExtKeyUsage) == 1 && t.cert.ExtKeyUsage[0] == x509.ExtKeyUsageTimeStamping && len(t.cert.UnknownExtKeyUsage) == 0
	critical := slices.ContainsFunc(t.cert.Extensions, func(e pkix.Extension) bool { return e.Id.Equal(oidExtKeyUsage) && e.Critical })
	if !alone || !critical {
		return fmt.Errorf("the certificate of %.200q is not for time-stamping alone; do not rely on this authority", t.Signer)
	}
	between := x509.NewCertPool()
	for _, cert := range t.others {
		between.AddCert(cert)
	}
	_, err := t.cert.Verify(x509.VerifyOptions{
		Roots: roots, Intermediates: between, CurrentTime: t.GenTime,
		KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageTimeStamping},
	})
	if err != nil {
		return fmt.Errorf("certificate of %.200q: %w; give the authority's root certificate if you trust it", t.Signer, err)
	}
	return nil
}

func hashOf(id asn1.ObjectIdentifier) (crypto.Hash, bool) {
	switch {
	case id.Equal(oidSHA256):
		return crypto.SHA256, true
	case id.Equal(oidSHA384):
		return crypto.SHA384, true
	case id.Equal(oidSHA512):
		return crypto.SHA512, true
	}
	return 0, false
}

func sum(hash crypto.Hash, data []byte) []byte {
	h := hash.New()
	h.Write(data)
	return h.Sum(nil)
}
