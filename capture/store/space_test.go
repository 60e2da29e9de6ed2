package store

import (
	"testing"
	"time"
)

func TestBytesInWords(t *testing.T) {
	for b, want := range map[Bytes]string{
		0: "0 B", 999: "999 B", 1000: "1.00 kB", 9994: "9.99 kB", 9996: "10.0 kB", 99_960: "100 kB", 999_600: "1.00 MB", 2_390_000_000: "2.39 GB", 5_000_000_000_000: "5.00 TB", 12_345_000_000_000_000: "12345 TB",
	} {
		if got := b.String(); got != want {
			t.Errorf("%d is %q, want %q", b, got, want)
		}
	}
}

func TestRoomInWords(t *testing.T) {
	const day = 86400
	for _, tt := range []struct {
		room Room
		left time.Duration
		say  string
	}{
		{Room{12e9, 12e9 / (12. * day)}, 12 * 24 * time.Hour, "12.0 GB free; the disk is full in about 12 days at this rate"},
		{Room{36e6, 1e3}, 10 * time.Hour, "36.0 MB free; the disk is full in about 10 hours at this rate"},
		{Room{6e4, 1e2}, 10 * time.Minute, "60.0 kB free; the disk is full in about 10 minutes at this rate"},
		{Room{0, 1}, 0, "0 B free; the disk is full in about 0 minutes at this rate"},
		{Room{1e12, 200}, farAway, "1.00 TB free; at this rate that is enough for years"},
		{Room{1e9, 0}, 0, "1.00 GB free; the record does not grow now"},
		{Room{1e9, -1}, 0, "1.00 GB free; how fast the record grows is not known yet"},
	} {
		left, _ := tt.room.Left()
		if left.Round(time.Second) != tt.left || tt.room.String() != tt.say {
			t.Errorf("%+v: %v, %q", tt.room, left, tt.room)
		}
	}
}
