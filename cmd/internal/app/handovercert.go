package app

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"math/big"
	"net"
	"strings"
	"time"
)

// certificate makes a key and a certificate of its own for one address.
func certificate(ip net.IP, ends time.Time) (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return tls.Certificate{}, err
	}
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "steadyrail, for one job and a few minutes"}, IPAddresses: []net.IP{ip},
		NotBefore: time.Now().Add(-24 * time.Hour), NotAfter: ends.Add(24 * time.Hour), // clocks of phones differ
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	if err != nil {
		return tls.Certificate{}, err
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, nil
}

// grouped writes a fingerprint as phones show it: "3F:2A:...".
func grouped(sum []byte) string {
	digits := strings.ToUpper(hex.EncodeToString(sum))
	var pairs []string
	for i := 0; i < len(digits); i += 2 {
		pairs = append(pairs, digits[i:i+2])
	}
	return strings.Join(pairs, ":")
}
