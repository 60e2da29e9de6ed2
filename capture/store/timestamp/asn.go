package timestamp

import (
	"crypto/x509/pkix"
	"encoding/asn1"
	"math/big"
)

// Object identifiers, each with the document that defines it.
var (
	oidSHA256 = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 1}    // RFC 5754, 2.2
	oidSHA384 = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 2}    // RFC 5754, 2.3
	oidSHA512 = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 3}    // RFC 5754, 2.4
	oidRSA    = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 1}        // RFC 3370, 3.2
	oidRSA256 = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 11}       // RFC 5754, 3.2
	oidRSA384 = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 12}       // RFC 5754, 3.2
	oidRSA512 = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 13}       // RFC 5754, 3.2
	oidEC256  = asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 2}         // RFC 5754, 3.3
	oidEC384  = asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 3}         // RFC 5754, 3.3
	oidEC512  = asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 4}         // RFC 5754, 3.3
	oidSigned = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 7, 2}        // RFC 5652, 5.1
	oidInfo   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 1, 4} // RFC 3161, 2.4.2

	oidContentType   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 3}         // RFC 5652, 11.1
	oidMessageDigest = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 4}         // RFC 5652, 11.2
	oidSigningCert   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 12} // RFC 2634, 5.4
	oidSigningCertV2 = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 47} // RFC 5035, 3
	oidExtKeyUsage   = asn1.ObjectIdentifier{2, 5, 29, 37}                       // RFC 5280, 4.2.1.12
)

// timeStampResp is TimeStampResp of RFC 3161, section 2.4.2.
type timeStampResp struct {
	Status statusInfo
	Token  contentInfo `asn1:"optional"`
}

// statusInfo is PKIStatusInfo of RFC 3161, section 2.4.2.
type statusInfo struct {
	Status int
	Text   []asn1.RawValue `asn1:"optional"` // UTF8Strings
	Fail   asn1.BitString  `asn1:"optional"`
}

// contentInfo is ContentInfo of RFC 5652, section 3.
type contentInfo struct {
	Type    asn1.ObjectIdentifier
	Content asn1.RawValue `asn1:"explicit,tag:0"`
}

// signedData is SignedData of RFC 5652, section 5.1.
type signedData struct {
	Version      int
	Digests      asn1.RawValue
	Content      encapsulated
	Certificates asn1.RawValue `asn1:"optional,tag:0"`
	Revocations  asn1.RawValue `asn1:"optional,tag:1"`
	Signers      []signerInfo  `asn1:"set"`
}

// encapsulated is EncapsulatedContentInfo of RFC 5652, section 5.2.
type encapsulated struct {
	Type    asn1.ObjectIdentifier
	Content []byte `asn1:"explicit,tag:0"`
}

// signerInfo is SignerInfo of RFC 5652, section 5.3.
type signerInfo struct {
	Version            int
	ID                 asn1.RawValue // issuerAndSerial, or [0] with a key identifier
	DigestAlgorithm    pkix.AlgorithmIdentifier
	Signed             asn1.RawValue `asn1:"optional,tag:0"`
	SignatureAlgorithm pkix.AlgorithmIdentifier
	Signature          []byte
	Unsigned           asn1.RawValue `asn1:"optional,tag:1"`
}

// issuerAndSerial is IssuerAndSerialNumber of RFC 5652, section 10.2.4.
type issuerAndSerial struct {
	Issuer asn1.RawValue
	Serial *big.Int
}

// attribute is Attribute of RFC 5652, section 5.3.
type attribute struct {
	Type   asn1.ObjectIdentifier
	Values []asn1.RawValue `asn1:"set"`
}

// signingCert is SigningCertificate of RFC 2634, section 5.4, and
// SigningCertificateV2 of RFC 5035, section 3: only the latter has an algorithm.
type signingCert struct {
	Certs    []certID
	Policies asn1.RawValue `asn1:"optional"`
}

type certID struct {
	Algorithm pkix.AlgorithmIdentifier `asn1:"optional"`
	Hash      []byte
	Issuer    asn1.RawValue `asn1:"optional"`
}

// tstInfo is TSTInfo of RFC 3161, section 2.4.2.
type tstInfo struct {
	Version    int
	Policy     asn1.ObjectIdentifier
	Imprint    messageImprint
	Serial     *big.Int
	GenTime    asn1.RawValue
	Accuracy   accuracy         `asn1:"optional"`
	Ordering   bool             `asn1:"optional"`
	Nonce      *big.Int         `asn1:"optional"`
	Authority  asn1.RawValue    `asn1:"optional,tag:0"`
	Extensions []pkix.Extension `asn1:"optional,tag:1"`
}

// accuracy is Accuracy of RFC 3161, section 2.4.2.
type accuracy struct {
	Raw     asn1.RawContent // empty if there is none
	Seconds int             `asn1:"optional"`
	Millis  int             `asn1:"optional,tag:0"`
	Micros  int             `asn1:"optional,tag:1"`
}
