package timestamp

import (
	"bytes"
	"crypto/x509"
	"encoding/asn1"
	"fmt"
	"math/big"
	"strings"
	"time"
)

// Token is what an authority states. Until [Token.VerifySignature] has returned
// nil, everything in it is a claim of whoever made it.
type Token struct {
	// GenTime is when the authority saw the digest, in UTC.
	GenTime time.Time
	// Accuracy is how far GenTime may be off to either side, as the authority
	// states it. It means nothing if AccuracyKnown is false.
	Accuracy      time.Duration
	AccuracyKnown bool
	// Policy is the rule book under which the authority worked.
	Policy asn1.ObjectIdentifier
	// Serial is the authority's number of the token.
	Serial *big.Int
	// Signer is the subject of the signer's certificate; empty if the token
	// does not include that certificate.
	Signer string

	info   []byte // DER TSTInfo, which the signature is about
	signed signerInfo
	cert   *x509.Certificate   // the signer's; nil if not included
	others []*x509.Certificate // all that can be read
}

// Read reads a response and compares it with the request: it must be granted
// ([ErrRefused]), be about the same digest, and carry the same nonce
// ([ErrMismatch]). It checks nothing about the signer: see
// [Token.VerifySignature].
func Read(request, response []byte) (Token, error) {
	r, err := ParseRequest(request)
	if err != nil {
		return Token{}, err
	}
	var resp timeStampResp
	if err := unmarshal(response, &resp); err != nil {
		return Token{}, fmt.Errorf("read time-stamp response: %w; ask for another, or look for an undamaged copy", err)
	}
	if err := resp.Status.granted(); err != nil {
		return Token{}, fmt.Errorf("read time-stamp response: %w", err)
	}
	t, info, err := open(resp.Token)
	if err != nil {
		return Token{}, fmt.Errorf("read time-stamp token: %w; ask for another, or look for an undamaged copy", err)
	}
	if err := info.matches(r); err != nil {
		return Token{}, fmt.Errorf("read time-stamp token: %w", err)
	}
	return t, nil
}

// failures are the bits of PKIFailureInfo (RFC 3161, section 2.4.2).
var failures = map[int]string{
	0: "it does not know the digest algorithm", 2: "it does not allow the request", 5: "it cannot read the request",
	14: "its clock is not available", 15: "it does not have the policy", 16: "it does not know the extension",
	17: "it cannot give what was asked for", 25: "it failed inside",
}

// granted refuses every status but granted (0) and granted with modifications
// (1): what may be modified is compared with the request or reported.
func (s statusInfo) granted() error {
	if s.Status == 0 || s.Status == 1 {
		return nil
	}
	var said []string
	for bit := range s.Fail.BitLength {
		if why, known := failures[bit]; known && s.Fail.At(bit) == 1 {
			said = append(said, why)
		}
	}
	for _, text := range s.Text {
		said = append(said, fmt.Sprintf("%.200q", text.Bytes))
	}
	if said == nil {
		said = []string{"no reason given"}
	}
	return fmt.Errorf("%w: status %d, %s; ask its operator, or ask another authority", ErrRefused, s.Status, strings.Join(said, ", "))
}

// open takes a token apart.
func open(c contentInfo) (Token, tstInfo, error) {
	var data signedData
	var info tstInfo
	if !c.Type.Equal(oidSigned) {
		return Token{}, info, fmt.Errorf("%w: there is no signed data in it", ErrMalformed)
	}
	if err := unmarshal(c.Content.Bytes, &data); err != nil {
		return Token{}, info, err
	}
	if !data.Content.Type.Equal(oidInfo) || len(data.Signers) != 1 {
		return Token{}, info, fmt.Errorf("%w: content of type %v with %d signers", ErrMalformed, data.Content.Type, len(data.Signers))
	}
	if err := unmarshal(data.Content.Content, &info); err != nil {
		return Token{}, info, err
	}
	t, err := info.token()
	if err != nil {
		return Token{}, info, err
	}
	t.info, t.signed = data.Content.Content, data.Signers[0]
	t.others = certificates(data.Certificates.Bytes)
	for _, cert := range t.others {
		if t.signed.isBy(cert) {
			t.cert, t.Signer = cert, cert.Subject.String()
		}
	}
	return t, info, nil
}

// token gives the statement for people.
func (i tstInfo) token() (Token, error) {
	t := Token{Policy: i.Policy, Serial: i.Serial, AccuracyKnown: len(i.Accuracy.Raw) > 0}
	if i.Version != 1 {
		return t, fmt.Errorf("%w: version %d of the statement, 1 expected", ErrMalformed, i.Version)
	}
	for _, e := range i.Extensions {
		if e.Critical {
			return t, fmt.Errorf("%w: this program does not know the critical extension %v", ErrMalformed, e.Id)
		}
	}
	var err error
	if t.GenTime, err = genTime(i.GenTime); err != nil {
		return t, err
	}
	t.Accuracy, err = i.Accuracy.duration()
	return t, err
}

// genTime reads a GeneralizedTime in UTC, with or without a fraction that does
// not end in 0 (RFC 3161, section 2.4.2).
func genTime(v asn1.RawValue) (time.Time, error) {
	const layout = "20060102150405.999999999Z"
	at, err := time.Parse("20060102150405Z", string(v.Bytes))
	if err != nil || v.Class != asn1.ClassUniversal || v.Tag != asn1.TagGeneralizedTime || at.Format(layout) != string(v.Bytes) {
		return time.Time{}, fmt.Errorf("%w: %.40q is no time in UTC", ErrMalformed, v.Bytes)
	}
	return at, nil
}

func (a accuracy) duration() (time.Duration, error) {
	const year = 366 * 24 * 3600
	if a.Seconds < 0 || a.Seconds > year || a.Millis < 0 || a.Millis > 999 || a.Micros < 0 || a.Micros > 999 {
		return 0, fmt.Errorf("%w: accuracy of %d s, %d ms, %d us", ErrMalformed, a.Seconds, a.Millis, a.Micros)
	}
	return time.Duration(a.Seconds)*time.Second + time.Duration(a.Millis)*time.Millisecond + time.Duration(a.Micros)*time.Microsecond, nil
}

func (i tstInfo) matches(r Request) error {
	if !i.Imprint.Algorithm.Algorithm.Equal(oidSHA256) || !bytes.Equal(i.Imprint.Digest, r.digest[:]) {
		return fmt.Errorf("%w: it is about the digest %.64x, asked was %x; look for the request that was kept with it", ErrMismatch, i.Imprint.Digest, r.digest)
	}
	if i.Nonce == nil || i.Nonce.Cmp(new(big.Int).SetUint64(r.nonce)) != 0 {
		return fmt.Errorf("%w: the nonce is not that of the request, so it may be an old answer played back; ask again", ErrMismatch)
	}
	return nil
}

// certificates returns what can be read of a CertificateSet (RFC 5652, section
// 10.2.3). Others are left out: if one of them is needed, the chain lacks it.
func certificates(der []byte) []*x509.Certificate {
	var certs []*x509.Certificate
	for len(der) > 0 {
		var v asn1.RawValue
		rest, err := asn1.Unmarshal(der, &v)
		if err != nil {
			break
		}
		if cert, err := x509.ParseCertificate(v.FullBytes); err == nil {
			certs = append(certs, cert)
		}
		der = rest
	}
	return certs
}

// isBy reports whether the signer says that this certificate is the signer's.
func (s signerInfo) isBy(cert *x509.Certificate) bool {
	if s.ID.Class == asn1.ClassContextSpecific && s.ID.Tag == 0 {
		return len(cert.SubjectKeyId) > 0 && bytes.Equal(s.ID.Bytes, cert.SubjectKeyId)
	}
	var id issuerAndSerial
	return unmarshal(s.ID.FullBytes, &id) == nil && id.Serial.Cmp(cert.SerialNumber) == 0 && bytes.Equal(id.Issuer.FullBytes, cert.RawIssuer)
}
