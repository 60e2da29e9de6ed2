package timestamp

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509/pkix"
	"encoding/asn1"
	"encoding/binary"
	"fmt"
	"io"
	"math/big"
)

// Request asks for a token over a SHA-256. Requests are comparable; the zero
// value asks about a digest of zeros without a random nonce and is of no use.
type Request struct {
	digest [sha256.Size]byte
	// nonce ties the answer to this request (RFC 3161, section 2.4.1: "a large
	// random number", for instance of 64 bits).
	nonce uint64
}

// NewRequest returns a request with a nonce out of random, or out of the
// system's generator if random is nil. Errors are those of random.
func NewRequest(digest [sha256.Size]byte, random io.Reader) (Request, error) {
	if random == nil {
		random = rand.Reader
	}
	var b [8]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return Request{}, fmt.Errorf("draw the nonce of a time-stamp request: %w; try again", err)
	}
	return Request{digest: digest, nonce: binary.BigEndian.Uint64(b[:])}, nil
}

// Digest returns what the request is about.
func (r Request) Digest() [sha256.Size]byte { return r.digest }

// timeStampReq is TimeStampReq of RFC 3161, section 2.4.1.
type timeStampReq struct {
	Version    int
	Imprint    messageImprint
	Policy     asn1.ObjectIdentifier `asn1:"optional"`
	Nonce      *big.Int              `asn1:"optional"`
	CertReq    bool                  `asn1:"optional"`
	Extensions []pkix.Extension      `asn1:"optional,tag:0"`
}

// messageImprint is MessageImprint of RFC 3161, section 2.4.1.
type messageImprint struct {
	Algorithm pkix.AlgorithmIdentifier
	Digest    []byte
}

// DER returns the request as it is sent: a TimeStampReq with SHA-256, nonce, and
// the wish that the signer's certificate is in the token.
func (r Request) DER() []byte {
	der, err := asn1.Marshal(timeStampReq{
		Version: 1,
		Imprint: messageImprint{
			Algorithm: pkix.AlgorithmIdentifier{Algorithm: oidSHA256, Parameters: asn1.NullRawValue},
			Digest:    r.digest[:],
		},
		Nonce:   new(big.Int).SetUint64(r.nonce),
		CertReq: true,
	})
	if err != nil {
		panic(err) // every field is of a kind that can be written
	}
	return der
}

// ParseRequest reads what [Request.DER] gave. Anything else is [ErrMalformed],
// even where RFC 3161 would allow it: a kept request is one of ours.
func ParseRequest(der []byte) (Request, error) {
	var req timeStampReq
	if err := unmarshal(der, &req); err != nil {
		return Request{}, fmt.Errorf("read time-stamp request: %w; look for an undamaged copy", err)
	}
	if len(req.Imprint.Digest) != sha256.Size || req.Nonce == nil || !req.Nonce.IsUint64() {
		return Request{}, fmt.Errorf("read time-stamp request: %w: no SHA-256 or no nonce of 64 bits; look for the request that was kept with the response", ErrMalformed)
	}
	r := Request{digest: [sha256.Size]byte(req.Imprint.Digest), nonce: req.Nonce.Uint64()}
	if !bytes.Equal(r.DER(), der) {
		return Request{}, fmt.Errorf("read time-stamp request: %w: it asks otherwise than this program does; look for the request that was kept with the response", ErrMalformed)
	}
	return r, nil
}

// unmarshal reads the one value that der must be, without a rest.
func unmarshal(der []byte, into any) error {
	rest, err := asn1.Unmarshal(der, into)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrMalformed, err)
	}
	if len(rest) > 0 {
		return fmt.Errorf("%w: %d bytes too many", ErrMalformed, len(rest))
	}
	return nil
}
