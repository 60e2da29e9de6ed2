package block

import (
	"errors"
	"testing"
)

// FuzzDecode: any bytes give rows or an error that wraps ErrCorrupt; rows that
// come back can be coded again; points agree with them.
func FuzzDecode(f *testing.F) {
	var e Encoder
	for _, c := range cases {
		f.Add(e.Append(nil, c.rows))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var d Decoder
		n, countErr := Count(data)
		rows, err := d.Rows(nil, data)
		_, pointsErr := d.Points(nil, data)
		for _, err := range []error{countErr, err, pointsErr} {
			if err != nil && !errors.Is(err, ErrCorrupt) {
				t.Fatalf("an error that is not ErrCorrupt: %v", err)
			}
		}
		if err != nil {
			return
		}
		if n != len(rows) || pointsErr != nil {
			t.Fatalf("Count %d, %d rows; Points: %v", n, len(rows), pointsErr)
		}
		roundTrip(t, rows)
	})
}

// TestCutAndSpoilt: a block that was cut, went on or lost a bit is refused or
// gives other rows; it never brings the program down.
func TestCutAndSpoilt(t *testing.T) {
	var e Encoder
	var d Decoder
	for _, c := range cases {
		data := e.Append(nil, c.rows)
		for n := 0; n < len(data); n += 1 + len(data)/500 {
			if _, err := d.Rows(nil, data[:n]); !errors.Is(err, ErrCorrupt) {
				t.Fatalf("%s, cut to %d of %d bytes: %v", c.name, n, len(data), err)
			}
		}
		if _, err := d.Rows(nil, append(data, 0)); !errors.Is(err, ErrCorrupt) {
			t.Fatalf("%s, with a byte more: %v", c.name, err)
		}
		for bit := 0; bit < 8*len(data); bit += 1 + len(data)/100 {
			data[bit/8] ^= 1 << (bit % 8)
			if _, err := d.Rows(nil, data); err != nil && !errors.Is(err, ErrCorrupt) {
				t.Fatalf("%s, bit %d spoilt: %v", c.name, bit, err)
			}
			data[bit/8] ^= 1 << (bit % 8)
		}
	}
}

// TestCount: no rows, and more than can be, are refused.
func TestCount(t *testing.T) {
	for _, data := range [][]byte{nil, {}, {Version}, {Version + 1, 1}, {Version, 0}, {Version, 0x80, 0x80, 0x04}, {Version, 0xff}} {
		if n, err := Count(data); !errors.Is(err, ErrCorrupt) {
			t.Errorf("Count(% x) is %d, %v", data, n, err)
		}
	}
}
