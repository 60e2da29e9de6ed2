package timestamp

import (
	"bytes"
	"errors"
	"io"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRequestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Request{nonce: rapid.OneOf(rapid.Uint64(), rapid.SampledFrom([]uint64{0, 127, 128, math.MaxUint64})).Draw(t, "nonce")}
		copy(r.digest[:], rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "digest"))
		got, err := ParseRequest(r.DER())
		if err != nil || got != r || got.Digest() != r.digest {
			t.Fatalf("%+v was read as %+v, %v", r, got, err)
		}
	})
}

func TestNonceIsDrawn(t *testing.T) {
	a, errA := NewRequest([32]byte{1}, nil)
	b, errB := NewRequest([32]byte{1}, nil)
	if errA != nil || errB != nil || a == b || a.Digest() != b.Digest() {
		t.Errorf("%+v and %+v, %v, %v", a, b, errA, errB)
	}
	if _, err := NewRequest([32]byte{}, bytes.NewReader([]byte("short"))); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("too little randomness: %v", err)
	}
}

func TestParseRequestRefuses(t *testing.T) {
	good := request().DER()
	swapped := func(old, new string) []byte { return bytes.Replace(good, []byte(old), []byte(new), 1) }
	for name, der := range map[string][]byte{
		"nothing":           nil,
		"cut":               good[:len(good)-1],
		"more":              append(bytes.Clone(good), 0),
		"another version":   swapped("\x02\x01\x01", "\x02\x01\x02"),
		"another algorithm": swapped("\x03\x04\x02\x01", "\x03\x04\x02\x02"),
		"no certificate":    swapped("\x01\x01\xff", "\x01\x01\x00"),
		"a negative nonce":  swapped("8 bytes!", "\xb8 bytes!"),
		"a reply":           newAuthority(t, nil).answer(t, request()),
	} {
		if r, err := ParseRequest(der); !errors.Is(err, ErrMalformed) {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}
