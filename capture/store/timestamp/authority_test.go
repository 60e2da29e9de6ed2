package timestamp

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"math/big"
	"slices"
	"testing"
	"time"
)

// authority makes tokens by hand, so that each of them can be wrong in one
// place. That right ones are right for others too is shown with an outside
// program.
type authority struct {
	key    *ecdsa.PrivateKey
	cert   *x509.Certificate
	root   *x509.Certificate
	status int
	spoil  spoil
}

// spoil changes what is written, each field if it is set.
type spoil struct {
	info       func(*tstInfo)
	attributes func([]attribute) []attribute
	signer     func(*signerInfo)
	data       func(*signedData)
}

var stamped = time.Date(2031, 4, 5, 6, 7, 8, 250e6, time.UTC)

// newAuthority makes a root and a signer's certificate, which change may bend.
func newAuthority(tb testing.TB, change func(*x509.Certificate)) *authority {
	tb.Helper()
	usage, _ := asn1.Marshal([]asn1.ObjectIdentifier{{1, 3, 6, 1, 5, 5, 7, 3, 8}}) // timeStamping (RFC 3161, 2.3)
	root := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Bench root"}, IsCA: true, BasicConstraintsValid: true,
		NotBefore: stamped.AddDate(-1, 0, 0), NotAfter: stamped.AddDate(1, 0, 0), KeyUsage: x509.KeyUsageCertSign,
	}
	leaf := &x509.Certificate{
		SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "Bench authority"}, SubjectKeyId: []byte("bench"),
		NotBefore: stamped.AddDate(0, -1, 0), NotAfter: stamped.AddDate(0, 1, 0), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtraExtensions: []pkix.Extension{{Id: oidExtKeyUsage, Critical: true, Value: usage}},
	}
	if change != nil {
		change(leaf)
	}
	rootKey, key := newKey(tb), newKey(tb)
	a := &authority{key: key}
	a.root = issue(tb, root, root, &rootKey.PublicKey, rootKey)
	a.cert = issue(tb, leaf, a.root, &key.PublicKey, rootKey)
	return a
}

func newKey(tb testing.TB) *ecdsa.PrivateKey {
	tb.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		tb.Fatal(err)
	}
	return key
}

func issue(tb testing.TB, cert, parent *x509.Certificate, public *ecdsa.PublicKey, by crypto.Signer) *x509.Certificate {
	tb.Helper()
	der, err := x509.CreateCertificate(rand.Reader, cert, parent, public, by)
	if err != nil {
		tb.Fatal(err)
	}
	made, err := x509.ParseCertificate(der)
	if err != nil {
		tb.Fatal(err)
	}
	return made
}

func pool(certs ...*x509.Certificate) *x509.CertPool {
	p := x509.NewCertPool()
	for _, cert := range certs {
		p.AddCert(cert)
	}
	return p
}

// answer gives the response to a request.
func (a *authority) answer(tb testing.TB, r Request) []byte {
	tb.Helper()
	info := tstInfo{
		Version: 1, Policy: asn1.ObjectIdentifier{1, 2, 3, 4}, Serial: big.NewInt(77),
		Imprint:  messageImprint{Algorithm: pkix.AlgorithmIdentifier{Algorithm: oidSHA256}, Digest: r.digest[:]},
		GenTime:  asn1.RawValue{Tag: asn1.TagGeneralizedTime, Bytes: []byte(stamped.Format("20060102150405.999Z"))},
		Accuracy: accuracy{Seconds: 1, Millis: 500}, Nonce: new(big.Int).SetUint64(r.nonce),
	}
	if a.spoil.info != nil {
		a.spoil.info(&info)
	}
	statement := der(tb, info)
	data := signedData{
		Version: 3, Digests: asn1.RawValue{Tag: asn1.TagSet, IsCompound: true},
		Content:      encapsulated{Type: oidInfo, Content: statement},
		Certificates: asn1.RawValue{Class: asn1.ClassContextSpecific, IsCompound: true, Bytes: a.cert.Raw},
		Signers:      []signerInfo{a.sign(tb, statement)},
	}
	if a.spoil.data != nil {
		a.spoil.data(&data)
	}
	content := asn1.RawValue{Class: asn1.ClassContextSpecific, IsCompound: true, Bytes: der(tb, data)}
	token := der(tb, struct {
		Type    asn1.ObjectIdentifier
		Content asn1.RawValue
	}{oidSigned, content})
	return der(tb, struct {
		Status statusInfo
		Token  asn1.RawValue
	}{statusInfo{Status: a.status}, asn1.RawValue{FullBytes: token}})
}

func (a *authority) sign(tb testing.TB, statement []byte) signerInfo {
	tb.Helper()
	digest, name := sha256.Sum256(statement), sha256.Sum256(a.cert.Raw)
	attributes := []attribute{
		{oidContentType, []asn1.RawValue{{FullBytes: der(tb, oidInfo)}}},
		{oidMessageDigest, []asn1.RawValue{{FullBytes: der(tb, digest[:])}}},
		{oidSigningCertV2, []asn1.RawValue{{FullBytes: der(tb, signingCert{Certs: []certID{{Hash: name[:]}}})}}},
	}
	if a.spoil.attributes != nil {
		attributes = a.spoil.attributes(attributes)
	}
	set, err := asn1.MarshalWithParams(attributes, "set")
	if err != nil {
		tb.Fatal(err)
	}
	hashed := sha256.Sum256(set)
	signature, err := a.key.Sign(rand.Reader, hashed[:], crypto.SHA256)
	if err != nil {
		tb.Fatal(err)
	}
	set = bytes.Clone(set)
	set[0] = 0xa0
	info := signerInfo{
		Version: 1, ID: asn1.RawValue{FullBytes: der(tb, issuerAndSerial{asn1.RawValue{FullBytes: a.cert.RawIssuer}, a.cert.SerialNumber})},
		DigestAlgorithm: pkix.AlgorithmIdentifier{Algorithm: oidSHA256}, SignatureAlgorithm: pkix.AlgorithmIdentifier{Algorithm: oidEC256},
		Signed: asn1.RawValue{FullBytes: set}, Signature: signature,
	}
	if a.spoil.signer != nil {
		a.spoil.signer(&info)
	}
	return info
}

func der(tb testing.TB, v any) []byte {
	tb.Helper()
	b, err := asn1.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// without drops one signed attribute.
func without(kind asn1.ObjectIdentifier) func([]attribute) []attribute {
	return func(all []attribute) []attribute {
		return slices.DeleteFunc(all, func(a attribute) bool { return a.Type.Equal(kind) })
	}
}

// with puts other bytes into one signed attribute.
func with(kind asn1.ObjectIdentifier, value []byte) func([]attribute) []attribute {
	return func(all []attribute) []attribute {
		return append(without(kind)(all), attribute{kind, []asn1.RawValue{{FullBytes: value}}})
	}
}

// request is one about a fixed digest with a fixed nonce.
func request() Request {
	r, _ := NewRequest(sha256.Sum256([]byte("Alderbrook 88, +5 V")), bytes.NewReader([]byte("8 bytes!")))
	return r
}
